-- Takes away what 000002_people.up.sql made, with all people and tokens in it.
DROP VIEW people_centre, people_unfit, people_paper, people_lock, people_person;
CREATE OR REPLACE FUNCTION app_now() RETURNS timestamptz LANGUAGE sql VOLATILE PARALLEL SAFE RETURN clock_timestamp();
DROP TABLE token, unfit_lift, unfit_mark, paper_void, paper, person_role, person, centre;
DROP FUNCTION touch();
DROP PROCEDURE bind_to_centre(regclass, text);

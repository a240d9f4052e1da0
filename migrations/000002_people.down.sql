-- Takes away all people with their papers and tokens, which cannot be made again: only for
-- a database that holds nothing worth keeping.
DROP VIEW people_unfit, people_paper, people_correction, people_lock, people_person;
DROP TABLE ticket, token, unfit_lift, unfit_mark, paper_void, paper, person_correction, person_role, person;

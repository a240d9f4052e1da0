-- Takes away what devices sent, held entries too, which cannot be made again: only for a
-- database that holds nothing worth keeping. What was recorded from it stays.
DROP TRIGGER person_wake ON person;
DROP TRIGGER person_role_wake ON person_role;
DROP TRIGGER paper_wake ON paper;
DROP TRIGGER enrolment_wake ON enrolment;
DROP TRIGGER session_wake ON session;
DROP TRIGGER dive_wake ON dive;
DROP TRIGGER outing_wake ON outing;
DROP TRIGGER outing_guest_wake ON outing_guest;
DROP TRIGGER session_group_wake ON session_group;
DROP TRIGGER participant_wake ON participant;
DROP TRIGGER entry_wake ON entry;
DROP TRIGGER entry_void_wake ON entry_void;
DROP TRIGGER sign_off_wake ON sign_off;
DROP TRIGGER credit_wake ON credit;
DROP TABLE water_held, water_due, water_wait, water_entry, water_batch;
DROP FUNCTION water_wake, water_held_changed, water_held_added, water_entry_waits_no_more;

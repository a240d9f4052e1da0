-- What expired is held again.
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
DROP FUNCTION water_wake();
DROP TRIGGER water_held_changed ON water_entry;
DROP FUNCTION water_held_changed();
DROP TRIGGER water_held_added ON water_entry;
DROP FUNCTION water_held_added();
DROP TABLE water_held;
DROP TRIGGER water_entry_waits_no_more ON water_entry;
DROP FUNCTION water_entry_waits_no_more();
DROP TABLE water_due;
DROP TABLE water_wait;
UPDATE water_entry SET state = 'held' WHERE state = 'expired';
DROP INDEX water_entry_held_of_batch;
ALTER TABLE water_entry
    DROP CONSTRAINT water_entry_state_check,
    ADD CONSTRAINT water_entry_state_check CHECK (state IN ('held', 'recorded', 'refused', 'dropped'));

DROP INDEX water_entry_of_dive;
DROP INDEX water_entry_of_session;
DROP INDEX roll_call_of_participant;

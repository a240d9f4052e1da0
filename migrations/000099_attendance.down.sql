DROP INDEX roll_call_of_participant;

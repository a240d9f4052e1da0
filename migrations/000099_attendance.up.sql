-- Attendance is found by witnessed time when it is read, for each participant.

CREATE INDEX roll_call_of_participant ON roll_call (centre_id, participant_id);

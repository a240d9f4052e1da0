-- What is read by participant (attendance, as it was at a moment) and by session
-- or dive (entries from the water, whatever became of them).

CREATE INDEX roll_call_of_participant ON roll_call (centre_id, participant_id);
CREATE INDEX water_entry_of_session ON water_entry (centre_id, session_id);
CREATE INDEX water_entry_of_dive ON water_entry (centre_id, dive_id);

-- Takes away conventions, briefings and who acknowledged them, which cannot be
-- made again: only for a database that holds nothing worth keeping.
DROP VIEW sessions_conditions, planning_briefed, planning_briefing;
DROP TABLE acknowledgement, briefing_person, briefing, convention;
DELETE FROM entry_void v USING entry e WHERE e.centre_id = v.centre_id AND e.id = v.entry_id AND e.kind IN ('briefing', 'acknowledgement');
DELETE FROM entry WHERE kind IN ('briefing', 'acknowledgement');
ALTER TABLE entry DROP CONSTRAINT entry_kind_check, ADD CONSTRAINT entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count',
    'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'theory_result'));

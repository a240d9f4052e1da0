-- Loses what roll calls said of people's places; where they stand stays.
DROP VIEW sessions_arrival;
CREATE OR REPLACE VIEW journal_entry WITH (security_invoker) AS
SELECT e.*, v.voided_at, v.voided_by, v.reason AS void_reason
FROM entry e LEFT JOIN entry_void v ON v.centre_id = e.centre_id AND v.entry_id = e.id;
CREATE INDEX drill_attempt_of_enrolment ON drill_attempt (centre_id, enrolment_id, skill);
DROP INDEX drill_attempt_of_participant;
CREATE INDEX entry_of_enrolment ON entry (centre_id, enrolment_id, kind, witnessed_at);
DROP INDEX roll_call_of_group, roll_call_of_enrolment, roll_call_of_arrival;
ALTER TABLE roll_call DROP role, DROP group_id, DROP enrolment_id;
ALTER TABLE participant DROP placed;

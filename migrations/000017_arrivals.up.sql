-- What a roll call says of somebody whom nobody expected stands with the roll
-- call: the earliest one that stands gives role, group and enrolment, whichever
-- arrived first, until a decision places the person. Parts that roll calls made
-- before this stay as they are.

ALTER TABLE participant ADD placed boolean NOT NULL DEFAULT true; -- by a decision; false: by roll calls alone

ALTER TABLE roll_call
    ADD role         text CHECK (role IN ('student', 'instructor', 'assistant')), -- null: it names a participant
    ADD group_id     uuid,
    ADD enrolment_id uuid,
    ADD FOREIGN KEY (centre_id, group_id) REFERENCES session_group,
    ADD FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    ADD CONSTRAINT roll_call_student_has_enrolment CHECK (CASE WHEN role IS NULL THEN group_id IS NULL AND enrolment_id IS NULL
        ELSE (role = 'student') = (enrolment_id IS NOT NULL) END);
CREATE INDEX roll_call_of_arrival ON roll_call (centre_id, participant_id) WHERE role IS NOT NULL;
CREATE INDEX roll_call_of_enrolment ON roll_call (centre_id, enrolment_id) WHERE enrolment_id IS NOT NULL;
CREATE INDEX roll_call_of_group ON roll_call (centre_id, group_id) WHERE group_id IS NOT NULL;

-- The enrolment of an entry is that by which the participant takes part now; the
-- row keeps what was known when it was recorded. Entries are found by their
-- participants.
CREATE OR REPLACE VIEW journal_entry WITH (security_invoker) AS
SELECT e.centre_id, e.id, e.kind, e.session_id, e.outing_id, e.participant_id,
    CASE WHEN e.participant_id IS NULL THEN e.enrolment_id
        ELSE (SELECT p.enrolment_id FROM sessions_participant p WHERE p.centre_id = e.centre_id AND p.id = e.participant_id) END AS enrolment_id,
    e.witnessed_by, e.recorded_by, e.token_id, e.witnessed_at, e.recorded_at, e.findings, e.body_digest,
    v.voided_at, v.voided_by, v.reason AS void_reason
FROM entry e LEFT JOIN entry_void v ON v.centre_id = e.centre_id AND v.entry_id = e.id;
DROP INDEX entry_of_enrolment;
CREATE INDEX drill_attempt_of_participant ON drill_attempt (centre_id, participant_id);
DROP INDEX drill_attempt_of_enrolment;

-- Everything that roll calls say of the place of those whom they bring. Where
-- they disagree and no decision has been made, whatever one that stands says is
-- enough for a fact or a sign-off from the water to be taken.
CREATE VIEW sessions_arrival WITH (security_invoker) AS
SELECT r.centre_id, r.id, p.session_id, r.participant_id, p.person_id, r.group_id, r.role, r.enrolment_id, e.witnessed_at,
    NOT p.placed AND e.voided_at IS NULL AS stands
FROM roll_call r
JOIN participant p ON p.centre_id = r.centre_id AND p.id = r.participant_id
JOIN journal_entry e ON e.centre_id = r.centre_id AND e.id = r.id
WHERE r.role IS NOT NULL;
GRANT SELECT ON sessions_arrival TO tankside_app;

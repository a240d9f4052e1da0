-- One of the crew may be there without getting into the water: in charge of the
-- boat, at the surface, with a cold. That is said of the part in the session; who
-- said so, and when, stands with it, because nobody asks that person for a
-- low-gas pressure. A student who does not dive sits out.

ALTER TABLE participant
    ADD not_diving    boolean NOT NULL DEFAULT false,
    ADD not_diving_by uuid,        -- who said so; null where a program did
    ADD not_diving_at timestamptz, -- when it was said
    ADD FOREIGN KEY (centre_id, not_diving_by) REFERENCES person,
    ADD CONSTRAINT participant_student_dives CHECK (NOT (not_diving AND role = 'student')),
    ADD CONSTRAINT participant_not_diving_since CHECK (not_diving = (not_diving_at IS NOT NULL) AND (not_diving OR not_diving_by IS NULL));

-- Who takes part in a session and is not to dive.
CREATE VIEW sessions_not_diving WITH (security_invoker) AS
SELECT centre_id, session_id, id AS participant_id, person_id FROM participant WHERE not_diving;

GRANT SELECT ON sessions_not_diving TO tankside_app;

-- Who a person is, as it was corrected: a changed name or birth date keeps the old
-- one, who changed it, when and why, so that a certificate cannot change its owner
-- in silence.
--
-- The salts over which the ledger's hashes are taken. A hash of a birth date or of
-- a short reason alone is guessed in a moment; once its salt is deleted it cannot
-- be guessed any more. Entries from before have bare hashes and no row here.

CREATE TABLE ledger_salt (
    centre_id uuid NOT NULL REFERENCES centre,
    kind      text NOT NULL,
    ref_id    uuid NOT NULL, -- the decided row
    salt      bytea NOT NULL CHECK (length(salt) = 16),
    PRIMARY KEY (centre_id, kind, ref_id)
);
CALL bind_to_centre('ledger_salt', 'SELECT, INSERT');

CREATE TABLE person_correction (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,
    person_id    uuid NOT NULL,
    member       text NOT NULL CHECK (member IN ('name', 'birth_on')),
    before       text NOT NULL,
    after        text NOT NULL,
    reason       text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    corrected_by uuid NOT NULL,
    corrected_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, corrected_by) REFERENCES person
);
CREATE INDEX person_correction_of_person ON person_correction (centre_id, person_id, corrected_at, id);
CALL bind_to_centre('person_correction', 'SELECT, INSERT');

-- What others may show of it.
CREATE VIEW people_correction WITH (security_invoker) AS
SELECT c.centre_id, c.id, c.person_id, c.member, c.before, c.after, c.reason, c.corrected_by, c.corrected_at, n.name AS corrected_name
FROM person_correction c
JOIN person n ON n.centre_id = c.centre_id AND n.id = c.corrected_by;
GRANT SELECT ON people_correction TO tankside_app;

-- The ledger: what was decided, appended in the transaction that decided it and chained
-- for each subject; and what each decision was judged on.
--
-- Ids are chosen by whoever creates a thing, so one id may stand for things of two kinds: a
-- person and an enrolment, a person and a group. A chain therefore belongs to a kind of
-- thing and its id.

CREATE TABLE ledger_head (
    centre_id    uuid NOT NULL REFERENCES centre,
    subject_type text NOT NULL,
    subject_id   uuid NOT NULL,
    seq          bigint NOT NULL CHECK (seq >= 0),
    hash         bytea NOT NULL,
    PRIMARY KEY (centre_id, subject_type, subject_id)
);
CALL bind_to_centre('ledger_head', 'SELECT, INSERT, UPDATE');

CREATE TABLE ledger_entry (
    centre_id    uuid NOT NULL,
    subject_type text NOT NULL,
    subject_id   uuid NOT NULL,
    seq          bigint NOT NULL CHECK (seq > 0),
    kind         text NOT NULL,
    ref_id       uuid NOT NULL,  -- the row that was decided
    at           timestamptz NOT NULL,
    person_id    uuid,           -- null when the service itself took a clearance away
    token_id     uuid,
    canonical    bytea NOT NULL, -- RFC 8785 form of the entry, the previous hash included
    prev         bytea NOT NULL,
    hash         bytea NOT NULL, -- SHA-256 of canonical
    PRIMARY KEY (centre_id, subject_type, subject_id, seq),
    FOREIGN KEY (centre_id, subject_type, subject_id) REFERENCES ledger_head
);
CREATE INDEX ledger_entry_by_ref ON ledger_entry (ref_id, centre_id);
CALL bind_to_centre('ledger_entry', 'SELECT, INSERT');

-- The salts over which the ledger's hashes are taken. A hash of a birth date or of a short
-- reason alone is guessed in a moment; once its salt is deleted it cannot be guessed.
CREATE TABLE ledger_salt (
    centre_id uuid NOT NULL REFERENCES centre,
    kind      text NOT NULL,
    ref_id    uuid NOT NULL, -- the decided row
    salt      bytea NOT NULL CHECK (length(salt) = 16),
    PRIMARY KEY (centre_id, kind, ref_id)
);
CALL bind_to_centre('ledger_salt', 'SELECT, INSERT');

-- What others may show of a chain.
CREATE VIEW ledger_chain WITH (security_invoker) AS
SELECT centre_id, subject_type, subject_id, seq, kind, ref_id, at, hash
FROM ledger_entry;
GRANT SELECT ON ledger_chain TO tankside_app;

-- A decision keeps what it was judged on (ages, papers, crew, conditions, rule books with
-- their versions) and what the rules found, so that it can be judged again years later.
CREATE TABLE decision (
    centre_id    uuid NOT NULL REFERENCES centre,
    id           uuid NOT NULL,
    kind         text NOT NULL,
    subject_type text NOT NULL,
    subject_id   uuid NOT NULL,
    decided_at   timestamptz NOT NULL,
    person_id    uuid,
    token_id     uuid NOT NULL,
    judged_on    jsonb NOT NULL, -- see internal/decision
    findings     jsonb NOT NULL,
    accepted     jsonb NOT NULL DEFAULT '[]', -- cautions: rule, subject, reason
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CREATE INDEX decision_of_subject ON decision (centre_id, subject_type, subject_id, decided_at);
CALL bind_to_centre('decision', 'SELECT, INSERT');

-- People and access: people with their roles, what was corrected about them, their papers
-- and marks of unfitness; the tokens and tickets by which callers are recognised.

CREATE TABLE person (
    centre_id          uuid NOT NULL REFERENCES centre,
    id                 uuid NOT NULL,
    name               text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    birth_on           date NOT NULL,
    gauge_unit         text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    email              text,
    phone              text,
    emergency_name     text,
    emergency_phone    text,
    emergency_relation text,
    external_refs      jsonb NOT NULL DEFAULT '{}',
    body_digest        bytea NOT NULL,
    version            bigint NOT NULL DEFAULT 1,
    created_at         timestamptz NOT NULL,
    updated_at         timestamptz NOT NULL,
    touched            bigint NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (centre_id, id)
);
CREATE INDEX person_by_name ON person (centre_id, name, id);
CREATE INDEX person_by_touch ON person (centre_id, touched, id);
CREATE TRIGGER person_touch BEFORE UPDATE ON person FOR EACH ROW EXECUTE FUNCTION touch();
CALL bind_to_centre('person', 'SELECT, INSERT, UPDATE');

CREATE TABLE person_role (
    centre_id uuid NOT NULL,
    person_id uuid NOT NULL,
    role      text NOT NULL CHECK (role IN ('manager', 'instructor', 'assistant', 'student')),
    PRIMARY KEY (centre_id, person_id, role),
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
CALL bind_to_centre('person_role', 'SELECT, INSERT, DELETE');

-- A changed name or birth date keeps the old one, who changed it, when and why, so that a
-- certificate cannot change its owner in silence.
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
CREATE INDEX person_correction_of_person ON person_correction (person_id, centre_id, corrected_at, id);
CALL bind_to_centre('person_correction', 'SELECT, INSERT');

-- A paper is an outcome and dates, never what it says: no answers of a medical
-- questionnaire are kept. Where nobody else of a centre may record the papers of its only
-- instructor, the operator of the service does, with a command, and names who saw them:
-- then nobody of the staff stands for having seen or recorded it.
CREATE TABLE paper (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,
    person_id    uuid NOT NULL,
    kind         text NOT NULL CHECK (kind IN ('medical', 'consent', 'waiver', 'teaching_status',
        'first_aid', 'oxygen_provider', 'insurance')),
    outcome      text NOT NULL CHECK (outcome IN ('valid', 'nothing_flagged', 'physician_needed',
        'physician_approved', 'physician_refused')),
    issued_on    date NOT NULL,
    valid_until  date,
    seen_by      uuid,          -- null: recorded by the operator
    seen_by_name text,          -- of a paper that the operator recorded
    reference    text,
    body_digest  bytea NOT NULL,
    recorded_at  timestamptz NOT NULL,
    recorded_by  uuid,          -- null: the operator
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, seen_by) REFERENCES person,
    FOREIGN KEY (centre_id, recorded_by) REFERENCES person,
    CONSTRAINT paper_outcome_of_kind CHECK ((kind = 'medical') = (outcome <> 'valid')),
    CONSTRAINT paper_ends_after_issue CHECK (valid_until IS NULL OR valid_until >= issued_on),
    CONSTRAINT paper_seen_by_somebody CHECK (
        (seen_by IS NULL) = (seen_by_name IS NOT NULL) AND (seen_by IS NULL) = (recorded_by IS NULL))
);
CREATE INDEX paper_of_person ON paper (person_id, centre_id, kind, issued_on);
CALL bind_to_centre('paper', 'SELECT, INSERT');

CREATE TABLE paper_void (
    centre_id uuid NOT NULL,
    paper_id  uuid NOT NULL,
    reason    text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    voided_by uuid NOT NULL,
    voided_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, paper_id),
    FOREIGN KEY (centre_id, paper_id) REFERENCES paper,
    FOREIGN KEY (centre_id, voided_by) REFERENCES person
);
CALL bind_to_centre('paper_void', 'SELECT, INSERT');

-- A person not fit on one day, as one of the crew saw it; lifted by a row of its own.
CREATE TABLE unfit_mark (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    person_id   uuid NOT NULL,
    on_day      date NOT NULL,
    note        text,
    marked_by   uuid NOT NULL,
    marked_at   timestamptz NOT NULL,
    body_digest bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, marked_by) REFERENCES person
);
CREATE INDEX unfit_mark_of_person ON unfit_mark (person_id, centre_id, on_day);
CALL bind_to_centre('unfit_mark', 'SELECT, INSERT');

CREATE TABLE unfit_lift (
    centre_id uuid NOT NULL,
    mark_id   uuid NOT NULL,
    reason    text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    lifted_by uuid NOT NULL,
    lifted_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, mark_id),
    FOREIGN KEY (centre_id, mark_id) REFERENCES unfit_mark,
    FOREIGN KEY (centre_id, lifted_by) REFERENCES person
);
CALL bind_to_centre('unfit_lift', 'SELECT, INSERT');

-- A token's secret is kept as its SHA-256 only. It expires by the real clock.
CREATE TABLE token (
    centre_id   uuid NOT NULL REFERENCES centre,
    id          uuid NOT NULL,
    person_id   uuid,
    program     text,
    label       text NOT NULL DEFAULT '',
    hash        bytea NOT NULL,
    scopes      text[] NOT NULL,
    issued_by   uuid,
    issued_at   timestamptz NOT NULL,
    expires_at  timestamptz NOT NULL,
    revoked_at  timestamptz,
    body_digest bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, issued_by) REFERENCES person,
    CONSTRAINT token_of_one CHECK ((person_id IS NULL) <> (program IS NULL)),
    CONSTRAINT token_hash_once UNIQUE (centre_id, hash)
);
CREATE INDEX token_by_issue ON token (centre_id, issued_at, id);
CREATE INDEX token_of_person ON token (person_id, centre_id);
CALL bind_to_centre('token', 'SELECT, INSERT, UPDATE');

-- A ticket lets a browser open one address that it cannot send a header to. It stands for
-- the token that asked for it, for a short time by the real clock. Its secret is kept as
-- its SHA-256 only. It opens its address a limited number of times: a sheet once, a stream
-- a few times, since a browser reconnects.
CREATE TABLE ticket (
    centre_id  uuid NOT NULL,
    hash       bytea NOT NULL,
    token_id   uuid NOT NULL,
    address    text NOT NULL CHECK (length(address) BETWEEN 1 AND 4000), -- path and sorted query
    issued_at  timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    opens_left integer NOT NULL DEFAULT 1 CHECK (opens_left >= 0),
    PRIMARY KEY (centre_id, hash),
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CREATE INDEX ticket_by_expiry ON ticket (centre_id, expires_at);
CALL bind_to_centre('ticket', 'SELECT, INSERT, DELETE');
GRANT UPDATE (opens_left) ON ticket TO tankside_app;

-- What others may know of people.
CREATE VIEW people_person WITH (security_invoker) AS
SELECT
    p.centre_id, p.id, p.name, p.birth_on, p.gauge_unit,
    ARRAY(
        SELECT r.role
        FROM person_role r
        WHERE r.centre_id = p.centre_id AND r.person_id = p.id
        ORDER BY r.role) AS roles
FROM person p;

CREATE VIEW people_lock WITH (security_invoker) AS
SELECT centre_id, id
FROM person;

CREATE VIEW people_correction WITH (security_invoker) AS
SELECT
    c.centre_id, c.id, c.person_id, c.member, c.before, c.after, c.reason,
    c.corrected_by, c.corrected_at, n.name AS corrected_name
FROM person_correction c
JOIN person n ON n.centre_id = c.centre_id AND n.id = c.corrected_by;

-- Papers that stand.
CREATE VIEW people_paper WITH (security_invoker) AS
SELECT p.centre_id, p.id, p.person_id, p.kind, p.outcome, p.issued_on, p.valid_until
FROM paper p
WHERE NOT EXISTS (
    SELECT 1
    FROM paper_void v
    WHERE v.centre_id = p.centre_id AND v.paper_id = p.id);

-- Marks of unfitness that stand.
CREATE VIEW people_unfit WITH (security_invoker) AS
SELECT m.centre_id, m.id, m.person_id, m.on_day, m.marked_by
FROM unfit_mark m
WHERE NOT EXISTS (
    SELECT 1
    FROM unfit_lift l
    WHERE l.centre_id = m.centre_id AND l.mark_id = m.id);

GRANT SELECT ON people_person, people_correction, people_paper, people_unfit TO tankside_app;
-- UPDATE only to lock a row; nothing is changed through it.
GRANT SELECT, UPDATE ON people_lock TO tankside_app;

-- People: centres, people with their roles and papers, marks of unfitness, tokens.
-- The centre itself is a row with its own boundary: centre_id is its key.

-- bind_to_centre puts a table behind the centre's boundary and grants the
-- service what it may do there. Every later table is bound by it.
CREATE PROCEDURE bind_to_centre(t regclass, may text) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', t);
    EXECUTE format('CREATE POLICY centre_only ON %s USING (centre_id = app_centre()) WITH CHECK (centre_id = app_centre())', t);
    EXECUTE format('GRANT %s ON %s TO tankside_app', may, t);
END $$;

-- touch notes the transaction that changed a row last, so that a list can be
-- read from where the last reading was complete (updated_since).
CREATE FUNCTION touch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    NEW.touched := pg_current_xact_id()::text::bigint;
    RETURN NEW;
END $$;

CREATE TABLE centre (
    centre_id       uuid PRIMARY KEY,
    name            text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    time_zone       text NOT NULL,
    gauge_unit      text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    age_of_majority integer NOT NULL CHECK (age_of_majority BETWEEN 12 AND 25),
    rule_books      text[] NOT NULL,              -- ids of the built-in ratio books that apply here
    own_book        jsonb,                        -- the centre's own ratio book, null when it has none
    crew_papers     text[] NOT NULL,              -- kinds of paper that crew must hold on the day
    student_papers  text[] NOT NULL,              -- kinds of paper that a student must hold to get into the water
    medical_months  integer NOT NULL CHECK (medical_months BETWEEN 1 AND 60),
    demo            boolean NOT NULL DEFAULT false,
    clock_offset    interval NOT NULL DEFAULT '0', -- moves "now"; only in demo centres
    version         bigint NOT NULL DEFAULT 1,
    created_at      timestamptz NOT NULL,
    updated_at      timestamptz NOT NULL,
    CONSTRAINT centre_clock_only_in_demo CHECK (demo OR clock_offset = '0')
);
CALL bind_to_centre('centre', 'SELECT, INSERT, UPDATE');

-- From here on "now" is the centre's own: a demo centre's clock may be set.
CREATE OR REPLACE FUNCTION app_now() RETURNS timestamptz
    LANGUAGE sql VOLATILE PARALLEL SAFE
    RETURN clock_timestamp() + coalesce((SELECT clock_offset FROM centre WHERE centre_id = app_centre()), '0');

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

-- A paper is an outcome and dates, never what it says: no answers of a medical
-- questionnaire are kept.
CREATE TABLE paper (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    person_id   uuid NOT NULL,
    kind        text NOT NULL CHECK (kind IN ('medical', 'consent', 'waiver', 'teaching_status', 'first_aid', 'oxygen_provider', 'insurance')),
    outcome     text NOT NULL CHECK (outcome IN ('valid', 'nothing_flagged', 'physician_needed', 'physician_approved', 'physician_refused')),
    issued_on   date NOT NULL,
    valid_until date,
    seen_by     uuid NOT NULL,
    reference   text,
    body_digest bytea NOT NULL,
    recorded_at timestamptz NOT NULL,
    recorded_by uuid NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, seen_by) REFERENCES person,
    FOREIGN KEY (centre_id, recorded_by) REFERENCES person,
    CONSTRAINT paper_outcome_of_kind CHECK ((kind = 'medical') = (outcome <> 'valid')),
    CONSTRAINT paper_ends_after_issue CHECK (valid_until IS NULL OR valid_until >= issued_on)
);
CREATE INDEX paper_of_person ON paper (centre_id, person_id, kind, issued_on);
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
CREATE INDEX unfit_mark_of_person ON unfit_mark (centre_id, person_id, on_day);
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
CALL bind_to_centre('token', 'SELECT, INSERT, UPDATE');

-- What other features may know of people.
CREATE VIEW people_person WITH (security_invoker) AS
SELECT p.centre_id, p.id, p.name, p.birth_on, p.gauge_unit,
       ARRAY(SELECT r.role FROM person_role r WHERE r.centre_id = p.centre_id AND r.person_id = p.id ORDER BY r.role) AS roles
FROM person p;

CREATE VIEW people_lock WITH (security_invoker) AS SELECT centre_id, id FROM person;

CREATE VIEW people_paper WITH (security_invoker) AS
SELECT p.centre_id, p.id, p.person_id, p.kind, p.outcome, p.issued_on, p.valid_until
FROM paper p
WHERE NOT EXISTS (SELECT 1 FROM paper_void v WHERE v.centre_id = p.centre_id AND v.paper_id = p.id);

CREATE VIEW people_unfit WITH (security_invoker) AS
SELECT m.centre_id, m.id, m.person_id, m.on_day, m.marked_by
FROM unfit_mark m
WHERE NOT EXISTS (SELECT 1 FROM unfit_lift l WHERE l.centre_id = m.centre_id AND l.mark_id = m.id);

CREATE VIEW people_centre WITH (security_invoker) AS
SELECT centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, own_book, crew_papers, student_papers, medical_months, version
FROM centre;

GRANT SELECT ON people_person, people_paper, people_unfit, people_centre TO tankside_app;
GRANT SELECT, UPDATE ON people_lock TO tankside_app; -- UPDATE only to lock a row; nothing is changed through it

-- Courses: sites, syllabuses in versions, courses, enrolments.

CREATE TABLE site (
    centre_id       uuid NOT NULL REFERENCES centre,
    id              uuid NOT NULL,
    name            text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    kind            text NOT NULL CHECK (kind IN ('confined', 'open')),
    water           text NOT NULL CHECK (water IN ('salt', 'fresh')),
    max_depth       depth NOT NULL CHECK ((max_depth).value > 0),
    altitude        depth NOT NULL DEFAULT '(0,m)', -- above sea level
    time_zone       text,          -- the centre's when null
    emergency       text NOT NULL, -- who to call, where oxygen and the radio are
    body_digest     bytea NOT NULL,
    version         bigint NOT NULL DEFAULT 1,
    created_at      timestamptz NOT NULL,
    updated_at      timestamptz NOT NULL,
    touched         bigint NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (centre_id, id)
);
CREATE INDEX site_by_name ON site (centre_id, name, id);
CREATE TRIGGER site_touch BEFORE UPDATE ON site FOR EACH ROW EXECUTE FUNCTION touch();
CALL bind_to_centre('site', 'SELECT, INSERT, UPDATE, DELETE');

CREATE TABLE syllabus (
    centre_id   uuid NOT NULL REFERENCES centre,
    id          uuid NOT NULL,
    title       text NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    copied_from text,             -- a built-in syllabus, or "<id>/<number>" of another
    newest      integer NOT NULL, -- the number of the newest version
    body_digest bytea NOT NULL,
    version     bigint NOT NULL DEFAULT 1,
    created_at  timestamptz NOT NULL,
    updated_at  timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id)
);
CREATE INDEX syllabus_by_title ON syllabus (centre_id, title, id);
CALL bind_to_centre('syllabus', 'SELECT, INSERT, UPDATE');

-- A version never changes: a running course keeps the one it started with. Its id, which
-- the caller may choose, tells a request that is sent again from the wish to teach an
-- earlier content again.
CREATE TABLE syllabus_version (
    centre_id   uuid NOT NULL,
    syllabus_id uuid NOT NULL,
    number      integer NOT NULL CHECK (number > 0),
    id          uuid NOT NULL DEFAULT gen_random_uuid(),
    content     jsonb NOT NULL,
    level       text NOT NULL,
    note        text,
    made_by     uuid,
    made_at     timestamptz NOT NULL,
    body_digest bytea NOT NULL,
    PRIMARY KEY (centre_id, syllabus_id, number),
    FOREIGN KEY (centre_id, syllabus_id) REFERENCES syllabus,
    FOREIGN KEY (centre_id, made_by) REFERENCES person
);
CREATE UNIQUE INDEX syllabus_version_id ON syllabus_version (centre_id, id);
CALL bind_to_centre('syllabus_version', 'SELECT, INSERT');

CREATE TABLE course (
    centre_id       uuid NOT NULL REFERENCES centre,
    id              uuid NOT NULL,
    title           text NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    syllabus_id     uuid NOT NULL,
    syllabus_number integer NOT NULL,
    starts_on       date NOT NULL,
    ends_on         date NOT NULL,
    places          integer CHECK (places > 0), -- active enrolments at most; null: no limit but the ratios
    state           text NOT NULL DEFAULT 'active' CHECK (state IN ('active', 'cancelled', 'closed')),
    state_reason    text,
    external_refs   jsonb NOT NULL DEFAULT '{}',
    body_digest     bytea NOT NULL,
    version         bigint NOT NULL DEFAULT 1,
    created_at      timestamptz NOT NULL,
    updated_at      timestamptz NOT NULL,
    touched         bigint NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, syllabus_id, syllabus_number) REFERENCES syllabus_version,
    CONSTRAINT course_ends_after_start CHECK (ends_on >= starts_on)
);
CREATE INDEX course_by_start ON course (centre_id, starts_on, id);
CREATE INDEX course_by_touch ON course (centre_id, touched, id);
CREATE TRIGGER course_touch BEFORE UPDATE ON course FOR EACH ROW EXECUTE FUNCTION touch();
CALL bind_to_centre('course', 'SELECT, INSERT, UPDATE');

CREATE TABLE enrolment (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,
    course_id    uuid NOT NULL,
    person_id    uuid NOT NULL,
    state        text NOT NULL
        CHECK (state IN ('waiting', 'active', 'withdrawn', 'transferred', 'completed')),
    state_reason text,
    body_digest  bytea NOT NULL,
    version      bigint NOT NULL DEFAULT 1,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    touched      bigint NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, course_id) REFERENCES course,
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
CREATE UNIQUE INDEX enrolment_once ON enrolment (centre_id, course_id, person_id)
    WHERE state IN ('waiting', 'active', 'completed');
CREATE INDEX enrolment_by_creation ON enrolment (centre_id, created_at, id);
CREATE INDEX enrolment_by_touch ON enrolment (centre_id, touched, id);
CREATE INDEX enrolment_of_course ON enrolment (course_id, centre_id, created_at, id);
CREATE INDEX enrolment_of_person ON enrolment (person_id, centre_id, id);
CREATE TRIGGER enrolment_touch BEFORE UPDATE ON enrolment FOR EACH ROW EXECUTE FUNCTION touch();
CALL bind_to_centre('enrolment', 'SELECT, INSERT, UPDATE');

-- What others may know of courses.
CREATE VIEW courses_site WITH (security_invoker) AS
SELECT
    centre_id, id, name, kind, water, max_depth, altitude,
    time_zone, emergency
FROM site;

CREATE VIEW courses_syllabus WITH (security_invoker) AS
SELECT centre_id, syllabus_id, number, content, level
FROM syllabus_version;

CREATE VIEW courses_course WITH (security_invoker) AS
SELECT
    c.centre_id, c.id, c.title, c.syllabus_id, c.syllabus_number, c.starts_on, c.ends_on, c.state, v.level
FROM course c
JOIN syllabus_version v
    ON v.centre_id = c.centre_id AND v.syllabus_id = c.syllabus_id AND v.number = c.syllabus_number;

CREATE VIEW courses_lock WITH (security_invoker) AS
SELECT centre_id, id
FROM course;

CREATE VIEW courses_enrolment WITH (security_invoker) AS
SELECT centre_id, id, course_id, person_id, state, version, created_at
FROM enrolment;

GRANT SELECT ON courses_site, courses_syllabus, courses_course TO tankside_app;
-- UPDATE only to lock a row; nothing is changed through it.
GRANT SELECT, UPDATE ON courses_enrolment, courses_lock TO tankside_app;

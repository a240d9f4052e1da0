-- Sessions and outings: outings with who goes along, sessions with their dives, groups with
-- their clearance, participants.

CREATE TABLE outing (
    centre_id   uuid NOT NULL REFERENCES centre,
    id          uuid NOT NULL,
    title       text NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    on_day      date NOT NULL,
    body_digest bytea NOT NULL,
    version     bigint NOT NULL DEFAULT 1,
    created_at  timestamptz NOT NULL,
    updated_at  timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id)
);
CREATE INDEX outing_by_day ON outing (centre_id, on_day, id);
CALL bind_to_centre('outing', 'SELECT, INSERT, UPDATE');

-- Who goes along without being a participant: the skipper, an escort.
CREATE TABLE outing_guest (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    outing_id   uuid NOT NULL,
    person_id   uuid,
    name        text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    part        text NOT NULL DEFAULT '',
    left_at     timestamptz, -- no longer on the list from then on
    body_digest bytea NOT NULL,
    created_at  timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, outing_id) REFERENCES outing,
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
CREATE INDEX outing_guest_of_outing ON outing_guest (outing_id, centre_id);
CALL bind_to_centre('outing_guest', 'SELECT, INSERT, UPDATE');

-- A session that ends before its planned end books its people no longer than it was held:
-- they may be placed elsewhere afterwards. What it was planned for stays in starts_at and
-- ends_at.
CREATE TABLE session (
    centre_id        uuid NOT NULL REFERENCES centre,
    id               uuid NOT NULL,
    course_id        uuid NOT NULL,
    kind             text NOT NULL CHECK (kind IN ('theory', 'confined', 'open')),
    title            text NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    site_id          uuid,
    outing_id        uuid,               -- of a water session, always
    starts_local     timestamp NOT NULL,
    ends_local       timestamp NOT NULL,
    time_zone        text NOT NULL,
    starts_at        timestamptz NOT NULL,
    ends_at          timestamptz NOT NULL,
    during           tstzrange NOT NULL, -- for which it books its people
    on_day           date NOT NULL,      -- the day of starts_local: ages and papers are judged on it
    state            text NOT NULL DEFAULT 'planned'
        CHECK (state IN ('planned', 'under_way', 'closed', 'cancelled', 'abandoned')),
    state_reason     text,
    opened_at        timestamptz,
    ended_at         timestamptz,
    log_complete     boolean NOT NULL DEFAULT false,      -- only then may lateness be judged
    places_lowered   integer CHECK (places_lowered >= 0), -- by the instructor, for every group; never raises
    visibility       depth,
    current          speed,
    temperature      temperature, -- of the water
    body_digest      bytea NOT NULL,
    version          bigint NOT NULL DEFAULT 1,
    created_at       timestamptz NOT NULL,
    updated_at       timestamptz NOT NULL,
    touched          bigint NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (centre_id, id),
    UNIQUE (centre_id, id, during),
    FOREIGN KEY (centre_id, course_id) REFERENCES course,
    FOREIGN KEY (centre_id, site_id) REFERENCES site,
    FOREIGN KEY (centre_id, outing_id) REFERENCES outing,
    CONSTRAINT session_ends_after_start CHECK (ends_at > starts_at),
    CONSTRAINT session_not_longer_than_a_day CHECK (ends_at <= starts_at + interval '24 hours'),
    CONSTRAINT session_during_is_its_span CHECK (during IN (
        tstzrange(starts_at, ends_at),
        tstzrange(starts_at, GREATEST(starts_at, LEAST(ends_at, ended_at))))),
    CONSTRAINT session_water_has_site CHECK (
        kind = 'theory' OR (site_id IS NOT NULL AND outing_id IS NOT NULL))
);
CREATE INDEX session_by_start ON session (centre_id, starts_at, id);
CREATE INDEX session_of_course ON session (course_id, centre_id, starts_at);
CREATE INDEX session_of_outing ON session (outing_id, centre_id);
CREATE INDEX session_by_touch ON session (centre_id, touched, id);
CREATE TRIGGER session_touch BEFORE UPDATE ON session FOR EACH ROW EXECUTE FUNCTION touch();
CALL bind_to_centre('session', 'SELECT, INSERT, UPDATE');

-- The planned dives of a water session; training_dive is the number in the syllabus, null
-- in confined water.
CREATE TABLE dive (
    centre_id     uuid NOT NULL,
    id            uuid NOT NULL,
    session_id    uuid NOT NULL,
    number        integer NOT NULL CHECK (number > 0), -- within the session
    training_dive integer CHECK (training_dive > 0),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    CONSTRAINT dive_number_once UNIQUE (centre_id, session_id, number)
);
CALL bind_to_centre('dive', 'SELECT, INSERT, UPDATE, DELETE');

-- A group keeps its load beside it: students counted, places by the ratio rule, and whether
-- it is cleared. The service locks the row before it touches members and writes places
-- after; the trigger group_recount recounts at commit; the check has the last word.
CREATE TABLE session_group (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    session_id     uuid NOT NULL,
    name           text NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    places_lowered integer CHECK (places_lowered >= 0),
    students       integer NOT NULL DEFAULT 0 CHECK (students >= 0),
    places         integer NOT NULL DEFAULT 0 CHECK (places >= 0),
    cleared        boolean NOT NULL DEFAULT true,
    findings       jsonb NOT NULL DEFAULT '[]',
    body_digest    bytea NOT NULL,
    version        bigint NOT NULL DEFAULT 1,
    created_at     timestamptz NOT NULL,
    updated_at     timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    UNIQUE (centre_id, session_id, id),
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    CONSTRAINT group_within_ratio CHECK (NOT cleared OR students <= places)
);
CALL bind_to_centre('session_group', 'SELECT, INSERT, UPDATE, DELETE');

-- One of the crew may be there without getting into the water: in charge of the boat, at
-- the surface, with a cold. Who said so, and when, stands with it, because nobody asks that
-- person for a low-gas pressure. A student who does not dive sits out.
CREATE TABLE participant (
    centre_id     uuid NOT NULL,
    id            uuid NOT NULL,
    session_id    uuid NOT NULL,
    group_id      uuid,
    person_id     uuid NOT NULL,
    enrolment_id  uuid,                          -- of a student, always
    role          text NOT NULL CHECK (role IN ('student', 'in_charge', 'instructor', 'assistant')),
    placed        boolean NOT NULL DEFAULT true, -- by a decision; false: by roll calls alone
    booked        boolean NOT NULL DEFAULT true, -- by a plan; false: only a fact made the person take part
    during        tstzrange NOT NULL,
    gauge_unit    text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    attendance    text NOT NULL DEFAULT 'expected'
        CHECK (attendance IN ('expected', 'present', 'late', 'left_early', 'sat_out', 'absent')),
    attendance_at timestamptz,                   -- witnessed
    counted       boolean NOT NULL GENERATED ALWAYS AS (attendance IN ('expected', 'present', 'late')) STORED,
    not_diving    boolean NOT NULL DEFAULT false,
    not_diving_by uuid,                          -- who said so; null where a program did
    not_diving_at timestamptz,                   -- when it was said
    body_digest   bytea NOT NULL,
    version       bigint NOT NULL DEFAULT 1,
    created_at    timestamptz NOT NULL,
    updated_at    timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, session_id, during) REFERENCES session (centre_id, id, during) ON UPDATE CASCADE,
    FOREIGN KEY (centre_id, session_id, group_id) REFERENCES session_group (centre_id, session_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, not_diving_by) REFERENCES person,
    CONSTRAINT participant_student_has_enrolment CHECK ((role = 'student') = (enrolment_id IS NOT NULL)),
    CONSTRAINT participant_student_dives CHECK (NOT (not_diving AND role = 'student')),
    CONSTRAINT participant_not_diving_since CHECK (
        not_diving = (not_diving_at IS NOT NULL) AND (not_diving OR not_diving_by IS NULL)),
    CONSTRAINT participant_once_a_session UNIQUE (centre_id, session_id, person_id),
    CONSTRAINT participant_in_one_place
        EXCLUDE USING gist (centre_id WITH =, person_id WITH =, during WITH &&)
        WHERE (booked) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT group_one_in_charge
        EXCLUDE USING gist (centre_id WITH =, group_id WITH =)
        WHERE (role = 'in_charge') DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX participant_of_session ON participant (session_id, centre_id, group_id);
CREATE INDEX participant_of_person ON participant (person_id, centre_id, session_id);
CREATE INDEX participant_of_enrolment ON participant (enrolment_id, centre_id);
CALL bind_to_centre('participant', 'SELECT, INSERT, UPDATE, DELETE');

-- At commit: lock each group whose members changed, then count in the next statement.
-- Counting in the statement that locks would read what was there before the lock.
CREATE FUNCTION group_recount() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    g uuid;
    n integer;
BEGIN
    FOR g IN
        SELECT DISTINCT x
        FROM unnest(ARRAY[
            CASE WHEN TG_OP <> 'INSERT' THEN OLD.group_id END,
            CASE WHEN TG_OP <> 'DELETE' THEN NEW.group_id END]) x
        WHERE x IS NOT NULL
        ORDER BY x
    LOOP
        PERFORM 1
        FROM session_group
        WHERE centre_id = COALESCE(NEW.centre_id, OLD.centre_id) AND id = g
        FOR NO KEY UPDATE;
        SELECT count(*) INTO n
        FROM participant
        WHERE centre_id = COALESCE(NEW.centre_id, OLD.centre_id)
            AND group_id = g
            AND role = 'student'
            AND counted;
        UPDATE session_group
        SET students = n
        WHERE centre_id = COALESCE(NEW.centre_id, OLD.centre_id) AND id = g AND students <> n;
    END LOOP;
    RETURN NULL;
END $$;

CREATE CONSTRAINT TRIGGER participant_recount AFTER INSERT OR UPDATE OR DELETE ON participant
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION group_recount();

-- A clearance given back or lost; the first one comes with the group.
CREATE TABLE clearance (
    centre_id  uuid NOT NULL,
    id         uuid NOT NULL,
    group_id   uuid NOT NULL,
    cleared    boolean NOT NULL,
    cause      text NOT NULL, -- the fact or decision that changed it
    findings   jsonb NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, group_id) REFERENCES session_group ON DELETE CASCADE
);
CREATE INDEX clearance_of_group ON clearance (group_id, centre_id, changed_at);
CALL bind_to_centre('clearance', 'SELECT, INSERT');

-- What others may know of sessions.
CREATE VIEW sessions_session WITH (security_invoker) AS
SELECT
    centre_id, id, course_id, kind, title, site_id, outing_id, starts_at, ends_at, time_zone, on_day,
    state, ended_at, log_complete
FROM session;

CREATE VIEW sessions_dive WITH (security_invoker) AS
SELECT centre_id, id, session_id, number, training_dive
FROM dive;

CREATE VIEW sessions_participant WITH (security_invoker) AS
SELECT
    p.centre_id, p.id, p.session_id, p.group_id, p.person_id, p.enrolment_id, p.role, p.gauge_unit,
    p.attendance, p.attendance_at, p.counted
FROM participant p;

CREATE VIEW sessions_group WITH (security_invoker) AS
SELECT centre_id, id, session_id, name, students, places, cleared, findings
FROM session_group;

GRANT SELECT ON sessions_dive, sessions_participant, sessions_group TO tankside_app;
-- UPDATE only to lock a row; nothing is changed through it.
GRANT SELECT, UPDATE ON sessions_session TO tankside_app;

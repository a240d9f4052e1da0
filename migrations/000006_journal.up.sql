-- The journal: one header for everything that was witnessed. Rows are added, never changed
-- and never deleted; a void is a later row with a reason. What was seen stands in a detail
-- table of the feature it belongs to, with the same id. Those of sessions follow here.

-- A kind of entry is declared in one place, the program's registry: the header takes any
-- name, and the row of details with the same id and kind makes it one of the kinds.
CREATE TABLE entry (
    centre_id      uuid NOT NULL REFERENCES centre,
    id             uuid NOT NULL,
    kind           text NOT NULL CHECK (kind ~ '^[a-z_]{1,40}$'),
    session_id     uuid,
    outing_id      uuid,
    participant_id uuid,
    enrolment_id   uuid, -- as it was known when it was recorded
    witnessed_by   uuid NOT NULL,
    recorded_by    uuid, -- null when a program recorded it
    token_id       uuid NOT NULL,
    witnessed_at   timestamptz NOT NULL,
    recorded_at    timestamptz NOT NULL,
    findings       jsonb NOT NULL DEFAULT '[]',
    body_digest    bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    UNIQUE (centre_id, id, kind),
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, outing_id) REFERENCES outing,
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, witnessed_by) REFERENCES person,
    FOREIGN KEY (centre_id, recorded_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CREATE INDEX entry_of_session ON entry (session_id, centre_id, witnessed_at, id);
CREATE INDEX entry_of_outing ON entry (outing_id, centre_id, witnessed_at, id);
CREATE INDEX entry_of_participant ON entry (participant_id, centre_id, kind, witnessed_at);
CALL bind_to_centre('entry', 'SELECT, INSERT');

CREATE TABLE entry_void (
    centre_id uuid NOT NULL,
    entry_id  uuid NOT NULL,
    reason    text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    voided_by uuid NOT NULL,
    token_id  uuid NOT NULL,
    voided_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, entry_id),
    FOREIGN KEY (centre_id, entry_id) REFERENCES entry,
    FOREIGN KEY (centre_id, voided_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CALL bind_to_centre('entry_void', 'SELECT, INSERT');

-- The clock of the device stands beside the corrected time of an entry: the device's time
-- is witnessed_at less the correction.
CREATE TABLE entry_clock (
    centre_id         uuid NOT NULL,
    entry_id          uuid NOT NULL,
    device            text NOT NULL,
    correction_s      bigint NOT NULL,
    wall_correction_s bigint, -- what the device's clock alone would have had added; null: no timer
    clock_id          uuid,   -- of the timer that the entry was read on; null: none
    ticks_ms          bigint,
    elapsed_ms        bigint,
    doubt             text CHECK (doubt IN ('ticks_lost', 'ticks_differ')),
    PRIMARY KEY (centre_id, entry_id),
    FOREIGN KEY (centre_id, entry_id) REFERENCES entry
);
CALL bind_to_centre('entry_clock', 'SELECT, INSERT');

-- Every entry with its void, if it has one. The enrolment of an entry is that by which the
-- participant takes part now.
CREATE VIEW journal_entry WITH (security_invoker) AS
SELECT
    e.centre_id, e.id, e.kind, e.session_id, e.outing_id, e.participant_id,
    CASE WHEN e.participant_id IS NULL THEN e.enrolment_id
        ELSE (
            SELECT p.enrolment_id
            FROM sessions_participant p
            WHERE p.centre_id = e.centre_id AND p.id = e.participant_id) END AS enrolment_id,
    e.witnessed_by, e.recorded_by, e.token_id, e.witnessed_at, e.recorded_at, e.findings, e.body_digest,
    v.voided_at, v.voided_by, v.reason AS void_reason
FROM entry e
LEFT JOIN entry_void v ON v.centre_id = e.centre_id AND v.entry_id = e.id;
GRANT SELECT ON journal_entry TO tankside_app;

-- What a roll call says of a participant whom nobody expected stands with the roll call: the
-- earliest one that stands decides role, group and enrolment, whichever arrived first, until
-- a decision places the person. Who is absent or left early is looked for until a roll call
-- says that they are not aboard.
CREATE TABLE roll_call (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'roll_call' CHECK (kind = 'roll_call'),
    participant_id uuid NOT NULL,
    role           text CHECK (role IN ('student', 'instructor', 'assistant')), -- null: names a participant
    group_id       uuid,
    enrolment_id   uuid,
    attendance     text NOT NULL CHECK (attendance IN ('present', 'late', 'left_early', 'sat_out', 'absent')),
    aboard         boolean, -- true: aboard all the same; null: nothing is said
    note           text,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, group_id) REFERENCES session_group,
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    CONSTRAINT roll_call_student_has_enrolment CHECK (
        CASE WHEN role IS NULL THEN group_id IS NULL AND enrolment_id IS NULL
        ELSE (role = 'student') = (enrolment_id IS NOT NULL) END),
    CONSTRAINT roll_call_not_aboard CHECK (aboard IS NOT FALSE OR attendance IN ('absent', 'left_early'))
);
CREATE INDEX roll_call_of_participant ON roll_call (participant_id, centre_id);
CREATE INDEX roll_call_of_arrival ON roll_call (participant_id, centre_id) WHERE role IS NOT NULL;
CREATE INDEX roll_call_of_enrolment ON roll_call (enrolment_id, centre_id) WHERE enrolment_id IS NOT NULL;
CREATE INDEX roll_call_of_group ON roll_call (group_id, centre_id) WHERE group_id IS NOT NULL;
CALL bind_to_centre('roll_call', 'SELECT, INSERT');

CREATE TABLE conditions_report (
    centre_id        uuid NOT NULL,
    id               uuid NOT NULL,
    kind             text NOT NULL DEFAULT 'conditions' CHECK (kind = 'conditions'),
    visibility       depth,
    current          speed,
    temperature      temperature, -- of the water
    note             text,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind)
);
CALL bind_to_centre('conditions_report', 'SELECT, INSERT');

CREATE TABLE head_count (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    kind        text NOT NULL DEFAULT 'head_count' CHECK (kind = 'head_count'),
    phase       text NOT NULL CHECK (phase IN ('departure', 'after_dive', 'return')),
    dive_number integer CHECK (dive_number BETWEEN 1 AND 20), -- null: of another phase, or not named
    figure      integer NOT NULL CHECK (figure BETWEEN 0 AND 1000),
    on_list     integer NOT NULL CHECK (on_list >= 0),        -- of the outing's list at that moment
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    CONSTRAINT head_count_names_its_dive CHECK (dive_number IS NULL OR phase = 'after_dive')
);
CALL bind_to_centre('head_count', 'SELECT, INSERT');

-- Everybody whom a count by name found.
CREATE TABLE head_count_name (
    centre_id     uuid NOT NULL,
    head_count_id uuid NOT NULL,
    number        integer NOT NULL CHECK (number > 0), -- in the order of the count
    person_id     uuid,
    guest_id      uuid,
    -- Where the person is, and who says so; null: seen aboard.
    accounted_for text CHECK (length(accounted_for) BETWEEN 1 AND 500),
    PRIMARY KEY (centre_id, head_count_id, number),
    FOREIGN KEY (centre_id, head_count_id) REFERENCES head_count,
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, guest_id) REFERENCES outing_guest,
    CONSTRAINT head_count_name_of_one CHECK ((person_id IS NULL) <> (guest_id IS NULL))
);
CALL bind_to_centre('head_count_name', 'SELECT, INSERT');

CREATE TABLE incident (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'incident' CHECK (kind = 'incident'),
    what           text NOT NULL CHECK (length(what) BETWEEN 1 AND 10000),
    actions        text NOT NULL DEFAULT '',
    oxygen_from_at timestamptz,
    oxygen_to_at   timestamptz,
    called         text NOT NULL DEFAULT '', -- who was called, when, what they said
    ends_alarm     boolean NOT NULL DEFAULT false,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind)
);
CALL bind_to_centre('incident', 'SELECT, INSERT');

CREATE TABLE incident_person (
    centre_id   uuid NOT NULL,
    incident_id uuid NOT NULL,
    person_id   uuid NOT NULL,
    part        text NOT NULL DEFAULT '',
    PRIMARY KEY (centre_id, incident_id, person_id),
    FOREIGN KEY (centre_id, incident_id) REFERENCES incident,
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
CALL bind_to_centre('incident_person', 'SELECT, INSERT');

-- Everything that roll calls say about the place of unexpected participants. Where they
-- disagree and no decision has been made, whatever one that stands says is enough for a
-- fact or a sign-off from the water to be taken.
CREATE VIEW sessions_arrival WITH (security_invoker) AS
SELECT
    r.centre_id, r.id, p.session_id, r.participant_id, p.person_id, r.group_id, r.role, r.enrolment_id,
    e.witnessed_at,
    NOT p.placed AND e.voided_at IS NULL AS stands
FROM roll_call r
JOIN participant p ON p.centre_id = r.centre_id AND p.id = r.participant_id
JOIN journal_entry e ON e.centre_id = r.centre_id AND e.id = r.id
WHERE r.role IS NOT NULL;
GRANT SELECT ON sessions_arrival TO tankside_app;

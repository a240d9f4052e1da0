-- The journal: one header for everything that was witnessed. Rows are added,
-- never changed and never deleted; a void is a later row with a reason. What
-- was seen stands in a detail table of the feature it belongs to, with the same id.

CREATE TABLE entry (
    centre_id      uuid NOT NULL REFERENCES centre,
    id             uuid NOT NULL,
    kind           text NOT NULL CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'theory_result')),
    session_id     uuid,
    outing_id      uuid,
    participant_id uuid,
    enrolment_id   uuid,
    witnessed_by   uuid NOT NULL,
    recorded_by    uuid,            -- null when a program recorded it
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
CREATE INDEX entry_of_session ON entry (centre_id, session_id, witnessed_at, id);
CREATE INDEX entry_of_outing ON entry (centre_id, outing_id, witnessed_at, id);
CREATE INDEX entry_of_participant ON entry (centre_id, participant_id, kind, witnessed_at);
CREATE INDEX entry_of_enrolment ON entry (centre_id, enrolment_id, kind, witnessed_at);
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

-- Every entry with its void, if it has one.
CREATE VIEW journal_entry WITH (security_invoker) AS
SELECT e.*, v.voided_at, v.voided_by, v.reason AS void_reason
FROM entry e LEFT JOIN entry_void v ON v.centre_id = e.centre_id AND v.entry_id = e.id;
GRANT SELECT ON journal_entry TO tankside_app;

-- What sessions witness.
CREATE TABLE roll_call (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'roll_call' CHECK (kind = 'roll_call'),
    participant_id uuid NOT NULL,
    attendance     text NOT NULL CHECK (attendance IN ('present', 'late', 'left_early', 'sat_out', 'absent')),
    note           text,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant
);
CALL bind_to_centre('roll_call', 'SELECT, INSERT');

CREATE TABLE conditions_report (
    centre_id        uuid NOT NULL,
    id               uuid NOT NULL,
    kind             text NOT NULL DEFAULT 'conditions' CHECK (kind = 'conditions'),
    visibility_value numeric(7,2), visibility_unit text CHECK (visibility_unit IN ('m', 'ft')),
    current_value    numeric(7,2), current_unit text CHECK (current_unit IN ('m/s', 'm/min', 'ft/min')),
    water_value      numeric(7,2), water_unit text CHECK (water_unit IN ('degC', 'degF')),
    note             text,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind)
);
CALL bind_to_centre('conditions_report', 'SELECT, INSERT');

CREATE TABLE head_count (
    centre_id  uuid NOT NULL,
    id         uuid NOT NULL,
    kind       text NOT NULL DEFAULT 'head_count' CHECK (kind = 'head_count'),
    phase      text NOT NULL CHECK (phase IN ('departure', 'after_dive', 'return')),
    figure     integer NOT NULL CHECK (figure BETWEEN 0 AND 1000),
    on_list    integer NOT NULL CHECK (on_list >= 0), -- of the outing's list at that moment
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind)
);
CALL bind_to_centre('head_count', 'SELECT, INSERT');

CREATE TABLE incident (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'incident' CHECK (kind = 'incident'),
    what           text NOT NULL CHECK (length(what) BETWEEN 1 AND 10000),
    actions        text NOT NULL DEFAULT '',
    oxygen_from_at timestamptz,
    oxygen_to_at   timestamptz,
    called         text NOT NULL DEFAULT '',   -- who was called, when, what they said
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

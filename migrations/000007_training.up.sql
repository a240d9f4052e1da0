-- Training: dives as they were done, gas checks and what was done about gas, drill attempts,
-- theory results; credits, sign-offs, completions.

CREATE TABLE time_in (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'time_in' CHECK (kind = 'time_in'),
    dive_id        uuid NOT NULL,
    participant_id uuid NOT NULL,
    team           text, -- the buddy team's name within the dive
    size           volume,   -- of the cylinder, in water or as rated gas
    rating         pressure, -- of the cylinder
    oxygen_percent numeric(5,2) CHECK (oxygen_percent BETWEEN 1 AND 100),
    start_pressure pressure,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive,
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant
);
CREATE INDEX time_in_of_dive ON time_in (dive_id, centre_id);
CREATE INDEX time_in_of_participant ON time_in (participant_id, centre_id);
CALL bind_to_centre('time_in', 'SELECT, INSERT');

CREATE TABLE time_out (
    centre_id     uuid NOT NULL,
    id            uuid NOT NULL,
    kind          text NOT NULL DEFAULT 'time_out' CHECK (kind = 'time_out'),
    time_in_id    uuid NOT NULL,
    depth         depth, -- the greatest
    end_pressure  pressure,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, time_in_id) REFERENCES time_in
);
CREATE INDEX time_out_of_time_in ON time_out (time_in_id, centre_id);
CALL bind_to_centre('time_out', 'SELECT, INSERT');

CREATE TABLE gas_check (
    centre_id         uuid NOT NULL,
    id                uuid NOT NULL,
    kind              text NOT NULL DEFAULT 'gas_check' CHECK (kind = 'gas_check'),
    participant_id    uuid NOT NULL,
    dive_id           uuid,
    depth             depth,
    reading           pressure,
    read_after_signal boolean NOT NULL DEFAULT false,
    simulated         boolean NOT NULL DEFAULT false, -- a made-up low of a drill: no reading of the gas
    signalled         pressure,
    signalled_with    text CHECK (signalled_with IN ('one_hand', 'two_hands', 'gauge')), -- null: not noted
    answered          boolean NOT NULL DEFAULT true,  -- false: asked, and no answer came
    verdict           text NOT NULL CHECK (verdict IN ('right', 'misread_low', 'over_reported',
        'undetermined', 'unverified', 'no_answer')),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive
);
CREATE INDEX gas_check_of_participant ON gas_check (participant_id, centre_id);
CALL bind_to_centre('gas_check', 'SELECT, INSERT');

-- What was done about gas in the water. Which pressure was reached at which check, what is
-- open and what was late follows from the entries when they are read, and is kept nowhere.
CREATE TABLE gas_response (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'gas_response' CHECK (kind = 'gas_response'),
    participant_id uuid NOT NULL,
    dive_id        uuid, -- null: the one under way at its time
    what           text NOT NULL CHECK (what IN ('turned', 'signalled_low', 'ascent_begun')),
    note           text CHECK (length(note) BETWEEN 1 AND 2000),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive
);
CREATE INDEX gas_response_of_participant ON gas_response (participant_id, centre_id);
CALL bind_to_centre('gas_response', 'SELECT, INSERT');

-- The log of a session or of one of its dives is complete, so that lateness may be judged.
CREATE TABLE log_completion (
    centre_id uuid NOT NULL,
    id        uuid NOT NULL,
    kind      text NOT NULL DEFAULT 'log_completion' CHECK (kind = 'log_completion'),
    dive_id   uuid, -- null: the whole session
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive
);
CALL bind_to_centre('log_completion', 'SELECT, INSERT');

CREATE TABLE drill_attempt (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'drill_attempt' CHECK (kind = 'drill_attempt'),
    participant_id uuid NOT NULL,
    enrolment_id   uuid NOT NULL,
    dive_id        uuid,
    skill          text NOT NULL,
    role           text CHECK (role IN ('donor', 'receiver')),
    measures       jsonb NOT NULL DEFAULT '[]',
    claimed        boolean NOT NULL, -- what the witness said: met, or not yet
    met            boolean NOT NULL, -- what counts: claimed, and the measures agree
    reason         text,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive,
    CONSTRAINT drill_attempt_met_was_claimed CHECK (claimed OR NOT met)
);
CREATE INDEX drill_attempt_of_participant ON drill_attempt (participant_id, centre_id);
CALL bind_to_centre('drill_attempt', 'SELECT, INSERT');

CREATE TABLE theory_result (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,
    kind         text NOT NULL DEFAULT 'theory_result' CHECK (kind = 'theory_result'),
    enrolment_id uuid NOT NULL,
    part         text NOT NULL,
    percent      numeric(5,2) NOT NULL CHECK (percent BETWEEN 0 AND 100),
    pass_mark    numeric(5,2) NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment
);
CREATE INDEX theory_result_of_enrolment ON theory_result (enrolment_id, centre_id, part);
CALL bind_to_centre('theory_result', 'SELECT, INSERT');

-- A credit is for a skill, a theory part or a training dive done at another centre; it is
-- not witnessed here and says so.
CREATE TABLE credit (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    enrolment_id   uuid NOT NULL,
    what           text NOT NULL CHECK (what IN ('skill', 'theory_part', 'training_dive')),
    code           text,
    training_dive  integer CHECK (training_dive > 0),
    minutes        integer CHECK (minutes > 0), -- of a training dive
    done_at_centre text NOT NULL CHECK (length(done_at_centre) BETWEEN 1 AND 200),
    done_by        text NOT NULL CHECK (length(done_by) BETWEEN 1 AND 200),
    done_on        date NOT NULL,
    document       text NOT NULL CHECK (length(document) BETWEEN 1 AND 500),
    accepted_by    uuid NOT NULL,
    accepted_at    timestamptz NOT NULL,
    body_digest    bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, accepted_by) REFERENCES person,
    CONSTRAINT credit_names_one CHECK (
        (what = 'training_dive') = (training_dive IS NOT NULL) AND (what = 'training_dive') = (code IS NULL))
);
CREATE INDEX credit_of_enrolment ON credit (enrolment_id, centre_id);
CALL bind_to_centre('credit', 'SELECT, INSERT');

CREATE TABLE credit_void (
    centre_id uuid NOT NULL,
    credit_id uuid NOT NULL,
    reason    text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    voided_by uuid NOT NULL,
    voided_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, credit_id),
    FOREIGN KEY (centre_id, credit_id) REFERENCES credit,
    FOREIGN KEY (centre_id, voided_by) REFERENCES person
);
CALL bind_to_centre('credit_void', 'SELECT, INSERT');

-- A sign-off. Round n + 1 of a skill needs round n voided; the void is a row of its own, so
-- the round and not a partial index keeps one standing. A sign-off made without coverage has
-- its own time of signing beside the time at which it was recorded. One skill may then be
-- signed off by two people: the earlier counts, the other supports it, and round only
-- numbers them as they were recorded.
CREATE TABLE sign_off (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    enrolment_id   uuid NOT NULL,
    skill          text NOT NULL,
    round          integer NOT NULL CHECK (round > 0),
    session_id     uuid NOT NULL,
    signed_by      uuid NOT NULL,
    witnessed_on   date NOT NULL, -- the day of the session: papers and order were judged on it
    signed_at      timestamptz NOT NULL,
    recorded_at    timestamptz NOT NULL,
    from_water     boolean NOT NULL DEFAULT false,
    evidence       uuid[] NOT NULL, -- attempts it rests on
    evidence_named boolean NOT NULL DEFAULT true, -- false: it rests on whatever attempts of its day count
    rests_on       uuid[] NOT NULL, -- sign-offs and credits that met its prerequisites
    findings       jsonb NOT NULL,
    body_digest    bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, signed_by) REFERENCES person,
    CONSTRAINT sign_off_once_a_round UNIQUE (centre_id, enrolment_id, skill, round)
);
CREATE INDEX sign_off_of_session ON sign_off (session_id, centre_id);
CALL bind_to_centre('sign_off', 'SELECT, INSERT');

CREATE TABLE sign_off_void (
    centre_id   uuid NOT NULL,
    sign_off_id uuid NOT NULL,
    reason      text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    voided_by   uuid NOT NULL,
    voided_at   timestamptz NOT NULL,
    PRIMARY KEY (centre_id, sign_off_id),
    FOREIGN KEY (centre_id, sign_off_id) REFERENCES sign_off,
    FOREIGN KEY (centre_id, voided_by) REFERENCES person
);
CALL bind_to_centre('sign_off_void', 'SELECT, INSERT');

CREATE TABLE completion (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,
    enrolment_id uuid NOT NULL,
    round        integer NOT NULL CHECK (round > 0),
    signed_by    uuid NOT NULL,
    signed_at    timestamptz NOT NULL,
    rests_on     uuid[] NOT NULL, -- sign-offs, credits, theory results and dives that met the requirements
    findings     jsonb NOT NULL,
    body_digest  bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, enrolment_id) REFERENCES enrolment,
    FOREIGN KEY (centre_id, signed_by) REFERENCES person,
    CONSTRAINT completion_once_a_round UNIQUE (centre_id, enrolment_id, round)
);
CALL bind_to_centre('completion', 'SELECT, INSERT');

CREATE TABLE completion_void (
    centre_id     uuid NOT NULL,
    completion_id uuid NOT NULL,
    reason        text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    voided_by     uuid NOT NULL,
    voided_at     timestamptz NOT NULL,
    PRIMARY KEY (centre_id, completion_id),
    FOREIGN KEY (centre_id, completion_id) REFERENCES completion,
    FOREIGN KEY (centre_id, voided_by) REFERENCES person
);
CALL bind_to_centre('completion_void', 'SELECT, INSERT');

-- What others may read of what was logged and signed. The dives that stand, each with its
-- latest end that stands: voided entries are not in it.
CREATE VIEW waterlog_dive WITH (security_invoker) AS
SELECT
    b.centre_id, b.id AS start_id, b.dive_id, b.participant_id, e.session_id, e.witnessed_at AS in_at,
    b.size, b.rating, b.oxygen_percent, b.start_pressure,
    z.id AS end_id, z.out_at, z.depth, z.end_pressure
FROM time_in b
JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
LEFT JOIN LATERAL (
    SELECT x.id, h.witnessed_at AS out_at, x.depth, x.end_pressure
    FROM time_out x
    JOIN journal_entry h ON h.centre_id = x.centre_id AND h.id = x.id
    WHERE x.centre_id = b.centre_id AND x.time_in_id = b.id AND h.voided_at IS NULL
    ORDER BY h.witnessed_at DESC, h.id
    LIMIT 1) z ON true
WHERE e.voided_at IS NULL;

-- The readings of gauges that stand. Simulated ones are not in it: no breathing rate is
-- learned from a figure that was made up.
CREATE VIEW waterlog_gas_check WITH (security_invoker) AS
SELECT
    g.centre_id, g.id, g.participant_id, g.dive_id, e.session_id, e.witnessed_at,
    g.depth, g.reading
FROM gas_check g
JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
WHERE e.voided_at IS NULL AND g.reading IS NOT NULL AND NOT g.simulated;

-- Who signed whom in which session, voided sign-offs included, so that none of them is
-- taken off it.
CREATE VIEW assessment_signed WITH (security_invoker) AS
SELECT centre_id, session_id, enrolment_id, signed_by
FROM sign_off;

GRANT SELECT ON waterlog_dive, waterlog_gas_check, assessment_signed TO tankside_app;

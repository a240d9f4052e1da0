-- Gas plans of a session: what was planned with, what came out, and what was
-- decided. Rows are added, never changed: a replan is a new plan that names its
-- predecessor, and confirming is a row of its own. Of the confirmed plans the
-- one confirmed last is the plan of record.
--
-- Participants, groups and dives are named without a foreign key: a plan does not keep
-- anybody in a session, and who has left it is found when the plan is confirmed.

-- How a centre plans gas; a centre without a row has the defaults of the program.
CREATE TABLE gas_settings (
    centre_id  uuid NOT NULL REFERENCES centre,
    settings   jsonb NOT NULL DEFAULT '{}',
    reason     text,                       -- why a figure is below what the program would choose
    version    bigint NOT NULL DEFAULT 1,
    updated_by uuid,
    updated_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id),
    FOREIGN KEY (centre_id, updated_by) REFERENCES person
);
CALL bind_to_centre('gas_settings', 'SELECT, INSERT, UPDATE');

CREATE TABLE gas_plan (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    session_id  uuid NOT NULL,
    dive_id     uuid,           -- null: for every dive of the session
    group_id    uuid,           -- null: not of one group alone
    replaces    uuid,           -- the plan that this one was made from
    reason      text CHECK (length(reason) BETWEEN 1 AND 2000),
    asked       jsonb NOT NULL, -- as it was asked for: readings and wishes
    input       jsonb NOT NULL, -- with everything that the service knew: the plan is worked out from this alone
    result      jsonb NOT NULL, -- what came out, with the versions of the rule books
    findings    jsonb NOT NULL, -- of the rule books, and of the session
    planned_by  uuid,           -- null when a program planned it
    token_id    uuid NOT NULL,
    planned_at  timestamptz NOT NULL,
    body_digest bytea NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, replaces) REFERENCES gas_plan,
    FOREIGN KEY (centre_id, planned_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CREATE INDEX gas_plan_of_session ON gas_plan (centre_id, session_id, planned_at, id);
CREATE INDEX gas_plan_of_predecessor ON gas_plan (centre_id, replaces);
CALL bind_to_centre('gas_plan', 'SELECT, INSERT');

-- What each person of a plan agrees on, for those who read single figures.
CREATE TABLE gas_plan_person (
    centre_id      uuid NOT NULL,
    plan_id        uuid NOT NULL,
    participant_id uuid NOT NULL,
    low_value      numeric(7,2) NOT NULL, low_unit text NOT NULL CHECK (low_unit IN ('bar', 'psi')),
    turn_value     numeric(7,2) NOT NULL, turn_unit text NOT NULL CHECK (turn_unit IN ('bar', 'psi')),
    start_value    numeric(7,2) NOT NULL, start_unit text NOT NULL CHECK (start_unit IN ('bar', 'psi')),
    PRIMARY KEY (centre_id, plan_id, participant_id),
    FOREIGN KEY (centre_id, plan_id) REFERENCES gas_plan
);
CALL bind_to_centre('gas_plan_person', 'SELECT, INSERT');

CREATE TABLE gas_plan_confirmed (
    centre_id    uuid NOT NULL,
    plan_id      uuid NOT NULL,
    session_id   uuid NOT NULL,
    dive_id      uuid,
    group_id     uuid,
    turn         integer NOT NULL CHECK (turn > 0), -- counts the session's confirmed plans, given under the session's lock
    findings     jsonb NOT NULL,                    -- as judged at that moment
    accepted     jsonb NOT NULL,                    -- the cautions that the person took on, each with the reason
    confirmed_by uuid NOT NULL,
    token_id     uuid NOT NULL,
    confirmed_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, plan_id),
    FOREIGN KEY (centre_id, plan_id) REFERENCES gas_plan,
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, confirmed_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token,
    CONSTRAINT gas_plan_confirmed_in_turn UNIQUE (centre_id, session_id, turn)
);
CALL bind_to_centre('gas_plan_confirmed', 'SELECT, INSERT');

-- The pressures of the plan of record, for each participant and dive (dive_id
-- null: for every dive of the session that has no plan of its own).
CREATE VIEW planning_pressure WITH (security_invoker) AS
SELECT DISTINCT ON (c.centre_id, c.session_id, x.participant_id, c.dive_id)
    c.centre_id, c.session_id, x.participant_id, c.dive_id, c.plan_id, x.low_value, x.low_unit, x.turn_value, x.turn_unit,
    x.start_value, x.start_unit, c.confirmed_at
FROM gas_plan_confirmed c JOIN gas_plan_person x ON x.centre_id = c.centre_id AND x.plan_id = c.plan_id
ORDER BY c.centre_id, c.session_id, x.participant_id, c.dive_id, c.turn DESC;
GRANT SELECT ON planning_pressure TO tankside_app;

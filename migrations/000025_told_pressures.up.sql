-- Who was told which low-gas pressure, so that nobody dives without one: in a
-- briefing by an instructor in charge, judged as a plan's pressures are, or by a
-- confirmed plan that nobody has withdrawn since.

-- What a briefing recorded before says of pressures counts as it was said: the
-- release before this one writes on without these columns.
ALTER TABLE briefing
    ADD in_charge boolean NOT NULL DEFAULT true, -- given by somebody in charge of a group of the session
    ADD dive_id   uuid,                          -- the dive that it is about; null: every dive of the session
    ADD dive      jsonb;                         -- depth, planned time and cylinder as said and as judged; null: no pressures were told

-- What forbids the pressures that the person was told; while anything does, they
-- do not count.
ALTER TABLE briefing_person ADD told jsonb NOT NULL DEFAULT '[]';

-- What a cylinder is taken for of which nothing is known.
ALTER TABLE gas_settings ADD smallest_cylinder jsonb; -- null: the program's own

-- A plan that nobody is to go by any more. It stays as it was.
CREATE TABLE gas_plan_withdrawn (
    centre_id    uuid NOT NULL,
    plan_id      uuid NOT NULL,
    session_id   uuid NOT NULL,
    reason       text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    withdrawn_by uuid,          -- null when a program did
    token_id     uuid NOT NULL,
    withdrawn_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, plan_id),
    FOREIGN KEY (centre_id, plan_id) REFERENCES gas_plan,
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, withdrawn_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CALL bind_to_centre('gas_plan_withdrawn', 'SELECT, INSERT');

-- The pressures of the plan of record, as before. Once it is withdrawn there is
-- none: the plan that it superseded does not come back by itself.
CREATE OR REPLACE VIEW planning_pressure WITH (security_invoker) AS
SELECT
    r.centre_id, r.session_id, r.participant_id, r.dive_id, r.plan_id, r.low_value, r.low_unit, r.turn_value, r.turn_unit,
    r.start_value, r.start_unit, r.confirmed_at
FROM (
    SELECT DISTINCT ON (c.centre_id, c.session_id, x.participant_id, c.dive_id)
        c.centre_id, c.session_id, x.participant_id, c.dive_id, c.plan_id, x.low_value, x.low_unit, x.turn_value, x.turn_unit,
        x.start_value, x.start_unit, c.confirmed_at
    FROM gas_plan_confirmed c
    JOIN gas_plan_person x ON x.centre_id = c.centre_id AND x.plan_id = c.plan_id
    ORDER BY c.centre_id, c.session_id, x.participant_id, c.dive_id, c.turn DESC) r
WHERE NOT EXISTS (SELECT FROM gas_plan_withdrawn w WHERE w.centre_id = r.centre_id AND w.plan_id = r.plan_id);

-- Plans and briefings: conventions of hand signals and briefings (what was agreed before a session, for
-- whom, and who has heard it), and gas plans (what was planned with, what came out, and what
-- was decided).
--
-- A briefing and an acknowledgement are facts: each is an entry of the journal, voided by a
-- later row. A briefing keeps a copy of the convention that was agreed, so that changing the
-- convention changes no briefing. It names persons and not participants, since one who joins
-- a session that is under way is briefed before they have a part in it.

-- A centre's own conventions; the built-in ones come with the program.
CREATE TABLE convention (
    centre_id   uuid NOT NULL REFERENCES centre,
    id          uuid NOT NULL,
    code        text NOT NULL CHECK (code ~ '^[a-z][a-z0-9_]{0,39}$'),
    name        text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    content     jsonb NOT NULL, -- unit, hands, style, ten, region, signs, note
    body_digest bytea NOT NULL,
    version     bigint NOT NULL DEFAULT 1,
    created_at  timestamptz NOT NULL,
    updated_at  timestamptz NOT NULL,
    PRIMARY KEY (centre_id, id),
    CONSTRAINT convention_code_once UNIQUE (centre_id, code)
);
CALL bind_to_centre('convention', 'SELECT, INSERT, UPDATE');

CREATE TABLE briefing (
    centre_id     uuid NOT NULL,
    id            uuid NOT NULL,
    kind          text NOT NULL DEFAULT 'briefing' CHECK (kind = 'briefing'),
    session_id    uuid NOT NULL,
    dive_id       uuid,                              -- that it is about; null: every dive of the session
    in_charge     boolean NOT NULL DEFAULT true,     -- given by somebody in charge of a group of the session
    convention    jsonb NOT NULL,                    -- as agreed
    check_every_s integer CHECK (check_every_s > 0), -- null: no interval was agreed
    dive          jsonb,                             -- depth, planned time and cylinder, as said and as
                                                     -- judged; null: no pressures were told
    content       jsonb NOT NULL,                    -- what to do when, roles, conditions, emergency
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, session_id) REFERENCES session
);
CREATE INDEX briefing_of_session ON briefing (session_id, centre_id);
CALL bind_to_centre('briefing', 'SELECT, INSERT');

-- digest is of all that concerns the person: what is agreed for everybody and the person's
-- own figures. Equal digests ask for no new acknowledgement.
CREATE TABLE briefing_person (
    centre_id   uuid NOT NULL,
    briefing_id uuid NOT NULL,
    person_id   uuid NOT NULL,
    gauge_unit  text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    figures     jsonb NOT NULL,              -- start, turn and low-gas pressures
    told        jsonb NOT NULL DEFAULT '[]', -- findings that forbid the pressures; while there are any,
                                             -- they do not count
    knows       jsonb,
    digest      bytea NOT NULL,
    PRIMARY KEY (centre_id, briefing_id, person_id),
    FOREIGN KEY (centre_id, briefing_id) REFERENCES briefing,
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
COMMENT ON COLUMN briefing_person.knows IS
    'the convention that the person was trained in, as far as anybody said: the agreed one too';
-- In which signals a person was trained, said in an earlier briefing: the newest word counts.
CREATE INDEX briefing_person_trained ON briefing_person (person_id, centre_id) WHERE knows IS NOT NULL;
CALL bind_to_centre('briefing_person', 'SELECT, INSERT');

CREATE TABLE acknowledgement (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    kind        text NOT NULL DEFAULT 'acknowledgement' CHECK (kind = 'acknowledgement'),
    briefing_id uuid NOT NULL,
    person_id   uuid NOT NULL,
    how         text NOT NULL CHECK (how IN ('gave_it', 'own_token', 'said_so', 'signalled', 'wrote')),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, briefing_id, person_id) REFERENCES briefing_person
);
CREATE INDEX acknowledgement_of_briefing ON acknowledgement (briefing_id, centre_id, person_id);
CALL bind_to_centre('acknowledgement', 'SELECT, INSERT');

-- How a centre plans gas; a centre without a row has the defaults of the program.
CREATE TABLE gas_settings (
    centre_id         uuid NOT NULL REFERENCES centre,
    settings          jsonb NOT NULL DEFAULT '{}',
    -- The floor for confined water, beside the one for open water among the settings; null:
    -- the program's own.
    confined_floor    jsonb
        CHECK (confined_floor->>'unit' IN ('bar', 'psi') AND (confined_floor->>'value')::numeric > 0),
    smallest_cylinder jsonb, -- assumed where nothing is known of a cylinder; null: the program's own
    reason            text,  -- why a figure is below what the program would choose
    version           bigint NOT NULL DEFAULT 1,
    updated_by        uuid,
    updated_at        timestamptz NOT NULL,
    PRIMARY KEY (centre_id),
    FOREIGN KEY (centre_id, updated_by) REFERENCES person
);
CALL bind_to_centre('gas_settings', 'SELECT, INSERT, UPDATE');

-- Gas plans are added, never changed: a replan is a new plan that names its predecessor, and
-- confirming and withdrawing are rows of their own. Of the confirmed plans the one confirmed
-- last is the plan of record.
--
-- Participants, groups and dives are named without a foreign key: a plan does not keep
-- anybody in a session, and who has left it is found when the plan is confirmed.
CREATE TABLE gas_plan (
    centre_id   uuid NOT NULL,
    id          uuid NOT NULL,
    session_id  uuid NOT NULL,
    dive_id     uuid,           -- null: for every dive of the session
    group_id    uuid,           -- null: not of one group alone
    replaces    uuid,           -- the plan that this one was made from
    reason      text CHECK (length(reason) BETWEEN 1 AND 2000),
    asked       jsonb NOT NULL, -- as it was asked for: readings and wishes
    input       jsonb NOT NULL, -- with everything that the service knew: the plan follows from this alone
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
CREATE INDEX gas_plan_of_session ON gas_plan (session_id, centre_id, planned_at, id);
CREATE INDEX gas_plan_of_predecessor ON gas_plan (replaces, centre_id);
CALL bind_to_centre('gas_plan', 'SELECT, INSERT');

-- What each person of a plan agrees on, for those who read single figures.
CREATE TABLE gas_plan_person (
    centre_id      uuid NOT NULL,
    plan_id        uuid NOT NULL,
    participant_id uuid NOT NULL,
    low            pressure NOT NULL,
    turn           pressure NOT NULL,
    start          pressure NOT NULL,
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
    turn         integer NOT NULL CHECK (turn > 0), -- counts the session's confirmed plans, under its lock
    findings     jsonb NOT NULL,                    -- as judged at that moment
    accepted     jsonb NOT NULL,                    -- the cautions that the person took on, with the reasons
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

-- A plan that is no longer in force. It stays as it was.
CREATE TABLE gas_plan_withdrawn (
    centre_id    uuid NOT NULL,
    plan_id      uuid NOT NULL,
    session_id   uuid NOT NULL,
    reason       text NOT NULL CHECK (length(reason) BETWEEN 1 AND 2000),
    withdrawn_by uuid, -- null when a program withdrew it
    token_id     uuid NOT NULL,
    withdrawn_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, plan_id),
    FOREIGN KEY (centre_id, plan_id) REFERENCES gas_plan,
    FOREIGN KEY (centre_id, session_id) REFERENCES session,
    FOREIGN KEY (centre_id, withdrawn_by) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CALL bind_to_centre('gas_plan_withdrawn', 'SELECT, INSERT');

-- The pressures of the plan of record, for each participant and dive (dive_id null: for
-- every dive of the session that has no plan of its own). Once it is withdrawn there is
-- none: the plan that it superseded does not come back.
CREATE VIEW plans_pressure WITH (security_invoker) AS
SELECT
    r.centre_id, r.session_id, r.participant_id, r.dive_id, r.plan_id, r.low, r.turn, r.start,
    r.confirmed_at
FROM (
    SELECT DISTINCT ON (c.centre_id, c.session_id, x.participant_id, c.dive_id)
        c.centre_id, c.session_id, x.participant_id, c.dive_id, c.plan_id, x.low, x.turn, x.start,
        c.confirmed_at
    FROM gas_plan_confirmed c
    JOIN gas_plan_person x ON x.centre_id = c.centre_id AND x.plan_id = c.plan_id
    ORDER BY c.centre_id, c.session_id, x.participant_id, c.dive_id, c.turn DESC) r
WHERE NOT EXISTS (
    SELECT
    FROM gas_plan_withdrawn w
    WHERE w.centre_id = r.centre_id AND w.plan_id = r.plan_id);
GRANT SELECT ON plans_pressure TO tankside_app;

-- Conventions of hand signals, and briefings: what was agreed before a session,
-- for whom, and who has heard it.
--
-- A briefing and an acknowledgement are facts: each is an entry of the journal,
-- voided by a later row. A briefing keeps a copy of the convention that was
-- agreed, so that changing the convention changes no briefing. It names persons
-- and not participants, since whoever joins a session that is under way is
-- briefed before they have a part in it.

ALTER TABLE entry DROP CONSTRAINT entry_kind_check, ADD CONSTRAINT entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count',
    'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'theory_result', 'briefing', 'acknowledgement'));

-- A centre's own conventions; the ready ones come with the program.
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
    convention    jsonb NOT NULL,                    -- as agreed
    check_every_s integer CHECK (check_every_s > 0), -- null: no interval was agreed
    content       jsonb NOT NULL,                    -- what to do when, roles, conditions, emergency information
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, session_id) REFERENCES session
);
CREATE INDEX briefing_of_session ON briefing (centre_id, session_id);
CALL bind_to_centre('briefing', 'SELECT, INSERT');

-- digest is of all that concerns the person: what is agreed for everybody and
-- the person's own figures. Equal digests ask for no new acknowledgement.
CREATE TABLE briefing_person (
    centre_id   uuid NOT NULL,
    briefing_id uuid NOT NULL,
    person_id   uuid NOT NULL,
    gauge_unit  text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    figures     jsonb NOT NULL, -- start, turn and low-gas pressures
    knows       jsonb,          -- the convention that the person was trained in, where it is another
    digest      bytea NOT NULL,
    PRIMARY KEY (centre_id, briefing_id, person_id),
    FOREIGN KEY (centre_id, briefing_id) REFERENCES briefing,
    FOREIGN KEY (centre_id, person_id) REFERENCES person
);
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
CREATE INDEX acknowledgement_of_briefing ON acknowledgement (centre_id, briefing_id, person_id);
CALL bind_to_centre('acknowledgement', 'SELECT, INSERT');

-- Every briefing that stands, with everybody whom it names.
CREATE VIEW planning_briefing WITH (security_invoker) AS
SELECT b.centre_id, b.session_id, b.id, x.person_id, e.witnessed_at AS given_at, e.recorded_at, x.digest, b.check_every_s, b.convention
FROM briefing b
JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id AND e.voided_at IS NULL
JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id;

-- Who has been briefed: one row for each participant of a session for whom the
-- newest standing briefing that names the person is acknowledged, in itself or
-- in an earlier one, where nothing that concerns the person was changed since.
-- briefed_at is when it was acknowledged first. Newest is by when it was given.
CREATE VIEW planning_briefed WITH (security_invoker) AS
SELECT n.centre_id, n.session_id, p.id AS participant_id, n.person_id, n.id AS briefing_id, h.at AS briefed_at, n.check_every_s, n.convention
FROM (
    SELECT DISTINCT ON (centre_id, session_id, person_id) * FROM planning_briefing
    ORDER BY centre_id, session_id, person_id, given_at DESC, recorded_at DESC, id) n
JOIN sessions_participant p ON p.centre_id = n.centre_id AND p.session_id = n.session_id AND p.person_id = n.person_id
CROSS JOIN LATERAL (
    SELECT min(e.witnessed_at) AS at
    FROM planning_briefing o
    JOIN acknowledgement a ON a.centre_id = o.centre_id AND a.briefing_id = o.id AND a.person_id = o.person_id
    JOIN journal_entry e ON e.centre_id = a.centre_id AND e.id = a.id AND e.voided_at IS NULL
    WHERE o.centre_id = n.centre_id AND o.session_id = n.session_id AND o.person_id = n.person_id AND o.digest = n.digest
        AND NOT EXISTS (SELECT FROM planning_briefing c
            WHERE c.centre_id = n.centre_id AND c.session_id = n.session_id AND c.person_id = n.person_id
                AND c.digest <> n.digest AND c.given_at > o.given_at)) h
WHERE h.at IS NOT NULL;
GRANT SELECT ON planning_briefing, planning_briefed TO tankside_app;

-- What others may know of the conditions, as reported last.
CREATE VIEW sessions_conditions WITH (security_invoker) AS
SELECT centre_id, id AS session_id, visibility_value, visibility_unit, current_value, current_unit, water_value, water_unit FROM session;
GRANT SELECT ON sessions_conditions TO tankside_app;

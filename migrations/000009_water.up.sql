-- Batches from the water: what a device kept while it had no coverage, as it was sent,
-- whatever became of it; what a held entry waits for, and what is due to be judged again.

CREATE TABLE water_batch (
    centre_id    uuid NOT NULL REFERENCES centre,
    id           uuid NOT NULL,
    device       text NOT NULL CHECK (length(device) BETWEEN 1 AND 200),
    sent_at      timestamptz NOT NULL, -- by the device's clock
    received_at  timestamptz NOT NULL, -- by ours
    correction_s bigint NOT NULL,      -- added to the device's times; 0 where its clock was right
    person_id    uuid,                 -- who sent it; null for a program
    program      text NOT NULL,
    token_id     uuid NOT NULL,
    roles        text[] NOT NULL,      -- of the sender, when it was sent: what is held is judged by them
    scopes       text[] NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
-- What a token has sent that waits, or was refused within a day, is counted before more is
-- kept.
CREATE INDEX water_batch_by_token ON water_batch (centre_id, token_id, received_at);
CALL bind_to_centre('water_batch', 'SELECT, INSERT');

-- One row for each entry, by what it says: the same entry sent again is the same row. What
-- it names may not exist yet, so session_id, dive_id and outing_id have no foreign key.
--
-- An entry of a batch that cannot be read is refused alone and kept as it was sent. What an
-- entry says is stored in a form with a number, whose names do not follow the program's. An
-- entry may carry a reading of a timer that counts milliseconds and is never set: then the
-- ticks that passed until it was sent decide its time, whatever happened to the device's
-- clock meanwhile. One that waited for long expires into a list for a person, and is never
-- dropped.
CREATE TABLE water_entry (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,               -- of the entry's id and digest
    entry_id     uuid NOT NULL,               -- chosen by the device
    batch_id     uuid NOT NULL,               -- that brought it first, and whose clock counts
    kind         text NOT NULL CHECK (kind ~ '^[a-z_]{1,40}$'),
    session_id   uuid,
    dive_id      uuid,
    outing_id    uuid,
    enrolment_id uuid,                        -- of a sign-off
    received     bytea,                       -- the entry as it came, byte for byte
    body         jsonb NOT NULL,              -- as the device sent it
    sent         bytea,                       -- of an entry that cannot be read; null: body has what was sent
    form         smallint NOT NULL DEFAULT 1, -- of item
    item         jsonb,                       -- understood, in the device's times; null: outside the contract
    state        text NOT NULL CHECK (state IN ('held', 'recorded', 'refused', 'dropped', 'expired')),
    problem      jsonb,                       -- why it is held or refused
    device_at    timestamptz,                 -- of what was witnessed, by the device's clock; null: unknown
    correction_s bigint,                      -- added to the device's times; null: the batch's correction
    clock_id     uuid,                        -- of the timer that the entry was read on; null: none
    ticks_ms     bigint CHECK (ticks_ms BETWEEN 0 AND 9007199254740991),
    elapsed_ms   bigint CHECK (elapsed_ms >= 0), -- by the timer, until the batch was sent; null: it had ended
    doubt        text CHECK (doubt IN ('ticks_lost', 'ticks_differ')),
    judged_at    timestamptz,
    drop_reason  text CHECK (length(drop_reason) BETWEEN 1 AND 2000),
    dropped_by   uuid,
    dropped_at   timestamptz,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, batch_id) REFERENCES water_batch,
    FOREIGN KEY (centre_id, dropped_by) REFERENCES person,
    CONSTRAINT water_entry_dropped_with_reason CHECK ((state = 'dropped') = (drop_reason IS NOT NULL)),
    CONSTRAINT water_entry_malformed CHECK (CASE WHEN kind = 'malformed' THEN sent IS NOT NULL ELSE true END),
    CONSTRAINT water_entry_unreadable_is_refused CHECK (sent IS NULL OR state = 'refused'),
    CONSTRAINT water_entry_timed CHECK ((clock_id IS NULL) = (ticks_ms IS NULL))
);
CREATE INDEX water_entry_by_id ON water_entry (entry_id, centre_id);
CREATE INDEX water_entry_by_state ON water_entry (centre_id, state, id);
CREATE INDEX water_entry_of_session ON water_entry (session_id, centre_id);
CREATE INDEX water_entry_of_dive ON water_entry (dive_id, centre_id);
CREATE INDEX water_entry_held ON water_entry (session_id, centre_id) WHERE state = 'held';
CREATE INDEX water_entry_held_of_batch ON water_entry (batch_id, id) WHERE state = 'held';
CREATE INDEX water_entry_refused ON water_entry (batch_id, centre_id) WHERE state = 'refused';
CALL bind_to_centre('water_entry', 'SELECT, INSERT, UPDATE');

-- What a held entry waits for, by kind and id, so that a write wakes only those entries that
-- it may let stand, whatever else is held.
CREATE TABLE water_wait (
    centre_id uuid NOT NULL,
    kind      text NOT NULL CHECK (kind IN ('session', 'dive', 'outing', 'group', 'participant', 'person',
        'enrolment', 'entry')),
    id        uuid NOT NULL, -- of the thing, which may not exist yet
    water_id  uuid NOT NULL,
    PRIMARY KEY (centre_id, kind, id, water_id),
    FOREIGN KEY (centre_id, water_id) REFERENCES water_entry
);
-- Without the centre in front: so no query by what is waited for can take it for the key.
CREATE INDEX water_wait_of_entry ON water_wait (water_id);
CALL bind_to_centre('water_wait', 'SELECT, INSERT, DELETE');

-- Nothing waits that is not held.
CREATE FUNCTION water_entry_waits_no_more() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    DELETE FROM water_wait w
    WHERE w.centre_id = NEW.centre_id AND w.water_id = NEW.id;
    RETURN NULL;
END $$;
CREATE TRIGGER water_entry_waits_no_more AFTER UPDATE OF state ON water_entry FOR EACH ROW
    WHEN (OLD.state = 'held' AND NEW.state <> 'held') EXECUTE FUNCTION water_entry_waits_no_more();

-- One row says that something happened to a thing that entries wait for, or that the entries
-- of a batch are to be looked at. Rows are added and never contended for, so a writer takes
-- no lock here; the background takes them with SKIP LOCKED.
CREATE TABLE water_due (
    centre_id uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    kind      text NOT NULL,        -- of the thing, or 'batch'
    thing_id  uuid NOT NULL,
    due_at    timestamptz NOT NULL, -- by the server's clock, not the centre's
    -- Judged only once every transaction before this one has ended: one that was under way
    -- while the entries were judged first may have brought what they wait for, and may not
    -- have seen that they wait. Null: at once.
    after_xid xid8,
    reached   uuid,                 -- of many entries, the last that was judged
    PRIMARY KEY (centre_id, id)
) WITH (fillfactor = 70);
CREATE INDEX water_due_by_time ON water_due (due_at);
CALL bind_to_centre('water_due', 'SELECT, INSERT, UPDATE, DELETE');
-- Outside the scope of a centre the background sees which centres have something due, and
-- nothing else of them. Within a scope it is bound like the service.
CREATE POLICY background_finds_centres ON water_due FOR SELECT TO tankside_worker
    USING (app_centre() IS NULL);

-- How many entries each token has held, so that counting them before a batch is taken costs
-- the same however many there are. Counted by statement, the tokens ascending.
CREATE TABLE water_held (
    centre_id uuid NOT NULL,
    token_id  uuid NOT NULL,
    held      bigint NOT NULL,
    PRIMARY KEY (centre_id, token_id),
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CALL bind_to_centre('water_held', 'SELECT, INSERT, UPDATE');

CREATE FUNCTION water_held_added() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO water_held AS h (centre_id, token_id, held)
    SELECT b.centre_id, b.token_id, count(*)
    FROM fresh n
    JOIN water_batch b ON b.centre_id = n.centre_id AND b.id = n.batch_id
    WHERE n.state = 'held'
    GROUP BY b.centre_id, b.token_id
    ORDER BY b.centre_id, b.token_id
    ON CONFLICT (centre_id, token_id) DO UPDATE SET held = h.held + excluded.held;
    RETURN NULL;
END $$;
CREATE TRIGGER water_held_added AFTER INSERT ON water_entry
    REFERENCING NEW TABLE AS fresh
    FOR EACH STATEMENT EXECUTE FUNCTION water_held_added();

CREATE FUNCTION water_held_changed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO water_held AS h (centre_id, token_id, held)
    SELECT b.centre_id, b.token_id, sum(x.held)
    FROM (
        SELECT n.centre_id, n.batch_id, 1 AS held
        FROM fresh n
        WHERE n.state = 'held'
        UNION ALL
        SELECT o.centre_id, o.batch_id, -1
        FROM former o
        WHERE o.state = 'held') x
    JOIN water_batch b ON b.centre_id = x.centre_id AND b.id = x.batch_id
    GROUP BY b.centre_id, b.token_id
    HAVING sum(x.held) <> 0
    ORDER BY b.centre_id, b.token_id
    ON CONFLICT (centre_id, token_id) DO UPDATE SET held = h.held + excluded.held;
    RETURN NULL;
END $$;
CREATE TRIGGER water_held_changed AFTER UPDATE ON water_entry
    REFERENCING OLD TABLE AS former NEW TABLE AS fresh
    FOR EACH STATEMENT EXECUTE FUNCTION water_held_changed();

-- water_wake notes that something is due where entries wait for one of the things that a row
-- names: its arguments are pairs of a kind and the column with the id. It looks up each by
-- its key, and costs the same however many entries wait. A table whose rows can let an entry
-- stand needs such a trigger.
CREATE FUNCTION water_wake() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    _row jsonb;
BEGIN
    IF NOT EXISTS (SELECT FROM water_wait w WHERE w.centre_id = NEW.centre_id) THEN
        RETURN NULL;
    END IF;
    _row := to_jsonb(NEW);
    FOR i IN 0 .. TG_NARGS - 1 BY 2 LOOP
        INSERT INTO water_due (centre_id, kind, thing_id, due_at)
        SELECT NEW.centre_id, TG_ARGV[i], (_row ->> TG_ARGV[i + 1])::uuid, clock_timestamp()
        WHERE EXISTS (
            SELECT
            FROM water_wait w
            WHERE w.centre_id = NEW.centre_id
                AND w.kind = TG_ARGV[i]
                AND w.id = (_row ->> TG_ARGV[i + 1])::uuid);
    END LOOP;
    RETURN NULL;
END $$;

CREATE CONSTRAINT TRIGGER person_wake AFTER INSERT OR UPDATE ON person DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('person', 'id');
CREATE CONSTRAINT TRIGGER person_role_wake AFTER INSERT ON person_role DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('person', 'person_id');
CREATE CONSTRAINT TRIGGER paper_wake AFTER INSERT ON paper DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('person', 'person_id');
CREATE CONSTRAINT TRIGGER enrolment_wake AFTER INSERT OR UPDATE ON enrolment DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('enrolment', 'id');
CREATE CONSTRAINT TRIGGER session_wake AFTER INSERT OR UPDATE ON session DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('session', 'id');
CREATE CONSTRAINT TRIGGER dive_wake AFTER INSERT OR UPDATE ON dive DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('dive', 'id');
CREATE CONSTRAINT TRIGGER outing_wake AFTER INSERT OR UPDATE ON outing DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('outing', 'id');
CREATE CONSTRAINT TRIGGER outing_guest_wake AFTER INSERT OR UPDATE ON outing_guest
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION water_wake('outing', 'outing_id');
CREATE CONSTRAINT TRIGGER session_group_wake AFTER INSERT ON session_group DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('group', 'id');
CREATE CONSTRAINT TRIGGER participant_wake AFTER INSERT OR UPDATE ON participant DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake(
        'participant', 'id', 'person', 'person_id', 'enrolment', 'enrolment_id');
CREATE CONSTRAINT TRIGGER entry_wake AFTER INSERT ON entry DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake(
        'entry', 'id', 'participant', 'participant_id', 'enrolment', 'enrolment_id');
CREATE CONSTRAINT TRIGGER entry_void_wake AFTER INSERT ON entry_void DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('entry', 'entry_id');
CREATE CONSTRAINT TRIGGER sign_off_wake AFTER INSERT ON sign_off DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('enrolment', 'enrolment_id');
CREATE CONSTRAINT TRIGGER credit_wake AFTER INSERT ON credit DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION water_wake('enrolment', 'enrolment_id');

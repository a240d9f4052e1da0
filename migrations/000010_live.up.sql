-- The live view: the feed of a session, which is what happened in it, numbered 1, 2, 3
-- without a gap in the order in which it was committed. The number comes from the row of
-- live_head, which is locked from then until the commit; so a reader who sees number n sees
-- all before it, and reading "after n" loses nothing and repeats nothing.
--
-- Numbers are assigned at commit, by deferred triggers: the lock is the last that a
-- transaction takes (after ledger heads, sessions ascending within an outing), is held for
-- the length of a commit, and only writers of the same session meet at it. A horizon
-- (pg_snapshot_xmin) would ask no lock of the writer, but one transaction that is open
-- anywhere on the server would hold back everybody's live view for as long as it is; that is
-- too much to ask of those who watch divers.

CREATE TABLE live_head (
    centre_id  uuid NOT NULL,
    session_id uuid NOT NULL,
    seq        bigint NOT NULL CHECK (seq > 0),
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES session
) WITH (fillfactor = 50); -- its one row a session is updated in place
CALL bind_to_centre('live_head', 'SELECT, INSERT, UPDATE');

-- An event names what happened and does not repeat it. No foreign key: only live_tell writes
-- here, right after the head that holds the session's. The service deletes what is too old
-- for anybody who comes back to the live view; the number of the last event stays in
-- live_head, so that numbers go on and no event is sent twice.
CREATE TABLE live_event (
    centre_id  uuid NOT NULL,
    session_id uuid NOT NULL,
    seq        bigint NOT NULL,
    type       text NOT NULL,
    ref_id     uuid NOT NULL, -- the row that says what happened
    detail     text,          -- what that row will no longer say later: a state
    at         timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id, seq)
);
CALL bind_to_centre('live_event', 'SELECT, INSERT, DELETE');

CREATE FUNCTION live_tell(
    _centre uuid, _session uuid, _type text, _ref uuid, _detail text, _at timestamptz
) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    WITH head AS (
        INSERT INTO live_head AS h (centre_id, session_id, seq)
        VALUES (_centre, _session, 1)
        ON CONFLICT (centre_id, session_id) DO UPDATE SET seq = h.seq + 1
        RETURNING h.seq)
    INSERT INTO live_event (centre_id, session_id, seq, type, ref_id, detail, at)
    SELECT _centre, _session, head.seq, _type, _ref, _detail, _at
    FROM head;
END $$;

-- live_tell_all adds an event to the feed of a session, or of every session of an outing
-- where it concerns them all, such as a head count.
CREATE FUNCTION live_tell_all(
    _centre uuid, _session uuid, _outing uuid, _type text, _ref uuid, _detail text, _at timestamptz
) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
    _each uuid;
BEGIN
    IF _session IS NOT NULL THEN
        PERFORM live_tell(_centre, _session, _type, _ref, _detail, _at);
        RETURN;
    END IF;
    FOR _each IN
        SELECT id
        FROM session
        WHERE centre_id = _centre AND outing_id = _outing
        ORDER BY id
    LOOP
        PERFORM live_tell(_centre, _each, _type, _ref, _detail, _at);
    END LOOP;
END $$;

CREATE FUNCTION live_entry() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell_all(
        NEW.centre_id, NEW.session_id, NEW.outing_id, NEW.kind, NEW.id, NULL, NEW.recorded_at);
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER entry_live AFTER INSERT ON entry DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION live_entry();

CREATE FUNCTION live_entry_void() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell_all(e.centre_id, e.session_id, e.outing_id, 'void', e.id, e.kind, NEW.voided_at)
    FROM entry e
    WHERE e.centre_id = NEW.centre_id AND e.id = NEW.entry_id;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER entry_void_live AFTER INSERT ON entry_void DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION live_entry_void();

CREATE FUNCTION live_sign_off() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell(NEW.centre_id, NEW.session_id, 'sign_off', NEW.id, NULL, NEW.signed_at);
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER sign_off_live AFTER INSERT ON sign_off DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION live_sign_off();

CREATE FUNCTION live_sign_off_void() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell(o.centre_id, o.session_id, 'sign_off_void', o.id, NULL, NEW.voided_at)
    FROM sign_off o
    WHERE o.centre_id = NEW.centre_id AND o.id = NEW.sign_off_id;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER sign_off_void_live AFTER INSERT ON sign_off_void DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION live_sign_off_void();

-- A session's own state, as it was then.
CREATE FUNCTION live_session() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell(NEW.centre_id, NEW.id, 'session', NEW.id, NEW.state, NEW.updated_at);
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER session_live AFTER UPDATE OF state ON session DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW WHEN (OLD.state <> NEW.state) EXECUTE FUNCTION live_session();

CREATE FUNCTION live_clearance() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM live_tell(
        g.centre_id, g.session_id, CASE WHEN NEW.cleared THEN 'clearance_given' ELSE 'clearance_lost' END,
        NEW.id, NULL, NEW.changed_at)
    FROM session_group g
    WHERE g.centre_id = NEW.centre_id AND g.id = NEW.group_id;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER clearance_live AFTER INSERT ON clearance DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION live_clearance();

-- Participants who join, move or leave while a session is under way; planning one is no
-- event.
CREATE FUNCTION live_participant() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    _row participant := CASE WHEN TG_OP = 'DELETE' THEN OLD ELSE NEW END;
BEGIN
    IF TG_OP = 'UPDATE' AND NEW.group_id IS NOT DISTINCT FROM OLD.group_id AND NEW.role = OLD.role THEN
        RETURN NULL;
    END IF;
    PERFORM live_tell(
        s.centre_id, s.id, 'participant', _row.id,
        CASE TG_OP WHEN 'INSERT' THEN 'joined' WHEN 'DELETE' THEN 'left' ELSE 'moved' END, app_now())
    FROM session s
    WHERE s.centre_id = _row.centre_id AND s.id = _row.session_id AND s.state = 'under_way';
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER participant_live AFTER INSERT OR DELETE OR UPDATE OF group_id, role ON participant
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION live_participant();

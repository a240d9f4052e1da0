-- Tenancy: the centre as the boundary, which every later migration relies on, and the
-- epoch of the positions that are handed out.
--
-- The policy of each table compares its centre_id with app_centre(), which is set for one
-- transaction at a time. Outside a transaction, and on a pooled connection that was scoped
-- before (its setting then reads ''), it is null, and null equals no centre.
--
-- Rights are granted table by table, in the migration that makes the table, and never by
-- default: a table of facts that nobody may edit gets SELECT and INSERT only, and a grant
-- that was forgotten fails in the first test.

-- Equality of ids within exclusion constraints. A trusted extension: the owner of the
-- database may create it, no superuser is needed.
CREATE EXTENSION IF NOT EXISTS btree_gist;

CREATE FUNCTION app_centre() RETURNS uuid
    LANGUAGE sql STABLE PARALLEL SAFE
    RETURN nullif(current_setting('app.centre', true), '')::uuid;

COMMENT ON FUNCTION app_centre() IS
    'The centre this transaction is scoped to; null when it is scoped to none.';

-- bind_to_centre puts a table behind the centre's boundary and grants the service what it
-- may do there.
CREATE PROCEDURE bind_to_centre(t regclass, may text) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', t);
    EXECUTE format(
        'CREATE POLICY centre_only ON %s
            USING (centre_id = app_centre())
            WITH CHECK (centre_id = app_centre())',
        t);
    EXECUTE format('GRANT %s ON %s TO tankside_app', may, t);
END $$;

-- touch notes the transaction that changed a row last, so that a list can be read from
-- where the last reading was complete (updated_since).
CREATE FUNCTION touch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    NEW.touched := pg_current_xact_id()::text::bigint;
    RETURN NEW;
END $$;

-- A reading is a quantity as it was read, in the unit in which it was read: (187.5,bar).
CREATE TYPE reading AS (value numeric(7,2), unit text);

CREATE DOMAIN pressure AS reading CHECK (VALUE IS NOT DISTINCT FROM NULL
    OR (VALUE).value IS NOT NULL AND (VALUE).unit IS NOT NULL AND (VALUE).unit IN ('bar', 'psi'));
CREATE DOMAIN depth AS reading CHECK (VALUE IS NOT DISTINCT FROM NULL
    OR (VALUE).value IS NOT NULL AND (VALUE).unit IS NOT NULL AND (VALUE).unit IN ('m', 'ft'));
CREATE DOMAIN volume AS reading CHECK (VALUE IS NOT DISTINCT FROM NULL
    OR (VALUE).value IS NOT NULL AND (VALUE).unit IS NOT NULL AND (VALUE).unit IN ('L', 'cu_ft'));
CREATE DOMAIN speed AS reading CHECK (VALUE IS NOT DISTINCT FROM NULL
    OR (VALUE).value IS NOT NULL AND (VALUE).unit IS NOT NULL
    AND (VALUE).unit IN ('m/s', 'm/min', 'ft/min'));
CREATE DOMAIN temperature AS reading CHECK (VALUE IS NOT DISTINCT FROM NULL
    OR (VALUE).value IS NOT NULL AND (VALUE).unit IS NOT NULL AND (VALUE).unit IN ('degC', 'degF'));

-- The centre itself is a row with its own boundary: centre_id is its key.
CREATE TABLE centre (
    centre_id       uuid PRIMARY KEY,
    name            text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    time_zone       text NOT NULL,
    gauge_unit      text NOT NULL CHECK (gauge_unit IN ('bar', 'psi')),
    age_of_majority integer NOT NULL CHECK (age_of_majority BETWEEN 12 AND 25),
    rule_books      text[] NOT NULL,               -- ids of the built-in ratio books that apply here
    own_book        jsonb,                         -- the centre's own ratio book; null: it has none
    crew_papers     text[] NOT NULL,               -- kinds of paper that crew must hold on the day
    student_papers  text[] NOT NULL,               -- kinds of paper that a student must hold to dive
    medical_months  integer NOT NULL CHECK (medical_months BETWEEN 1 AND 60),
    demo            boolean NOT NULL DEFAULT false,
    clock_offset    interval NOT NULL DEFAULT '0', -- moves "now"; only in demo centres
    version         bigint NOT NULL DEFAULT 1,
    created_at      timestamptz NOT NULL,
    updated_at      timestamptz NOT NULL,
    CONSTRAINT centre_clock_only_in_demo CHECK (demo OR clock_offset = '0')
);
CALL bind_to_centre('centre', 'SELECT, INSERT, UPDATE');

-- Every edition of a centre's own ratio book: a decision is judged again by that of its day.
CREATE TABLE rule_book (
    centre_id uuid NOT NULL REFERENCES centre,
    version   text NOT NULL,
    content   jsonb NOT NULL,
    set_at    timestamptz NOT NULL,
    PRIMARY KEY (centre_id, version)
);
CALL bind_to_centre('rule_book', 'SELECT, INSERT');

-- The one reading of the clock that a use case takes when it begins. A demo centre's clock
-- may be set.
CREATE FUNCTION app_now() RETURNS timestamptz
    LANGUAGE sql VOLATILE PARALLEL SAFE
    RETURN clock_timestamp()
        + coalesce((SELECT clock_offset FROM centre WHERE centre_id = app_centre()), '0');

COMMENT ON FUNCTION app_now() IS
    'The time it is for the centre in scope; read once, when a transaction begins.';

-- The cluster: its identifier, which initdb draws, the timeline, which every promotion and
-- recovery raises, and the database's oid, which a copy within the cluster changes. Null on
-- a server in recovery, which follows another one.
CREATE FUNCTION app_cluster() RETURNS text
    LANGUAGE sql VOLATILE PARALLEL SAFE
    RETURN CASE WHEN pg_is_in_recovery() THEN NULL ELSE
        (SELECT system_identifier FROM pg_control_system())::text
        || '/' || left(pg_walfile_name(pg_current_wal_insert_lsn()), 8)
        || '/' || (SELECT oid FROM pg_database WHERE datname = current_database())::text END;

COMMENT ON FUNCTION app_cluster() IS
    'Identifier of the cluster, timeline and oid of the database; null in recovery.';

-- Positions that are handed out name an epoch. updated_token is the number of a transaction,
-- and a stream's position the numbers of its sessions' events. Both mean something in one
-- line of history only: a database that was restored from a dump starts its transactions
-- low, so that a token of the old cluster would skip whatever was written on the new one;
-- one that was recovered to an earlier moment hands out the same numbers a second time. So
-- the epoch stands beside the cluster that it belongs to. Where the cluster is another one,
-- the service writes a new epoch before it hands out a position, and takes none of an
-- earlier epoch.
CREATE TABLE position_epoch (
    one     boolean PRIMARY KEY DEFAULT true CHECK (one), -- there is one row
    epoch   text NOT NULL,
    cluster text NOT NULL,                                -- app_cluster() when the epoch began
    since   timestamptz NOT NULL
);
GRANT SELECT, UPDATE ON position_epoch TO tankside_app;

INSERT INTO position_epoch (epoch, cluster, since)
VALUES (gen_random_uuid()::text, app_cluster(), clock_timestamp());

-- What others may know of the centre.
CREATE VIEW centre_settings WITH (security_invoker) AS
SELECT
    centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, own_book,
    crew_papers, student_papers, medical_months, version
FROM centre;
GRANT SELECT ON centre_settings TO tankside_app;

CREATE VIEW centre_lock WITH (security_invoker) AS
SELECT centre_id
FROM centre;
-- UPDATE only to lock the row; nothing is changed through it.
GRANT SELECT, UPDATE ON centre_lock TO tankside_app;

-- The service asks which schema it meets before it serves.
GRANT SELECT ON schema_migrations TO tankside_app;

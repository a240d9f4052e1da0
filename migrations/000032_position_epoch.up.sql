-- Positions that are handed out name an epoch.
--
-- updated_token is the number of a transaction, and a stream's position the
-- numbers of its sessions' events. Both mean something in one line of history
-- only: a database that was restored from a dump starts its transactions low, so
-- that a token of the old cluster would skip whatever was written on the new one;
-- one that was recovered to an earlier moment gives the same numbers once more.
-- So the epoch stands beside the cluster that it belongs to. Where the cluster is
-- another one, the service writes a new epoch before it hands out a position, and
-- takes none of an earlier epoch.

-- The cluster: its identifier, which initdb draws, the timeline, which every
-- promotion and recovery raises, and the database's oid, which a copy within the
-- cluster changes. Null on a server in recovery, which follows another one.
CREATE FUNCTION app_cluster() RETURNS text
    LANGUAGE sql VOLATILE PARALLEL SAFE
    RETURN CASE WHEN pg_is_in_recovery() THEN NULL ELSE
        (SELECT system_identifier FROM pg_control_system())::text
        || '/' || left(pg_walfile_name(pg_current_wal_insert_lsn()), 8)
        || '/' || (SELECT oid FROM pg_database WHERE datname = current_database())::text END;

COMMENT ON FUNCTION app_cluster() IS
    'Identifier of the cluster, timeline and oid of the database; null in recovery.';

CREATE TABLE position_epoch (
    one     boolean PRIMARY KEY DEFAULT true CHECK (one), -- there is one row
    epoch   text NOT NULL,
    cluster text NOT NULL,                               -- app_cluster() when the epoch began
    since   timestamptz NOT NULL
);
GRANT SELECT, UPDATE ON position_epoch TO tankside_app;

INSERT INTO position_epoch (epoch, cluster, since) VALUES (gen_random_uuid()::text, app_cluster(), clock_timestamp());

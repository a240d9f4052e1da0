-- The centre as the boundary: what every later migration leans on.
--
-- Each table's policy compares its centre_id with app_centre(), which is set
-- for one transaction at a time. Outside a transaction, and on a pooled
-- connection that was scoped before (its setting then reads ''), it is null,
-- and null equals no centre.
--
-- Rights are granted table by table, in the migration that makes the table,
-- and never by default: a table of facts that nobody may edit gets SELECT and
-- INSERT only, and a grant that was forgotten fails in the first test.

-- Equality of ids within exclusion constraints. A trusted extension: the
-- owner of the database may create it, no superuser is needed.
CREATE EXTENSION IF NOT EXISTS btree_gist;

CREATE FUNCTION app_centre() RETURNS uuid
    LANGUAGE sql STABLE PARALLEL SAFE
    RETURN nullif(current_setting('app.centre', true), '')::uuid;

COMMENT ON FUNCTION app_centre() IS
    'The centre this transaction is scoped to; null when it is scoped to none.';

-- The one reading of the clock that a use case takes when it begins.
CREATE FUNCTION app_now() RETURNS timestamptz
    LANGUAGE sql VOLATILE PARALLEL SAFE
    RETURN clock_timestamp();

COMMENT ON FUNCTION app_now() IS
    'The time it is for the centre in scope; read once, when a transaction begins.';

-- The service asks which schema it meets before it serves.
GRANT SELECT ON schema_migrations TO tankside_app;

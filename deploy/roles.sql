-- The three roles and the database, made once by a superuser, before anything is
-- migrated or restored: a dump names the roles in its grants.
--
--   psql -v owner_password=… -v app_password=… -v worker_password=… -f roles.sql postgres
--
-- A role or database that is there stays as it is, so this may be run again.

\set ON_ERROR_STOP on

SELECT 'CREATE ROLE tankside_owner LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE'
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'tankside_owner') \gexec

SELECT 'CREATE ROLE tankside_app LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE'
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'tankside_app') \gexec

-- Background work: it may do what the service may, centre by centre, and sees which
-- centres have something due.
SELECT 'CREATE ROLE tankside_worker LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE'
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'tankside_worker') \gexec
GRANT tankside_app TO tankside_worker;

\if :{?owner_password}
ALTER ROLE tankside_owner PASSWORD :'owner_password';
\endif
\if :{?app_password}
ALTER ROLE tankside_app PASSWORD :'app_password';
\endif
\if :{?worker_password}
ALTER ROLE tankside_worker PASSWORD :'worker_password';
\endif

-- Every statement begins with the centre, so one plan serves all centres. It stands
-- with the role because a pooler takes no settings at the start of a connection.
ALTER ROLE tankside_app SET plan_cache_mode = force_generic_plan;
ALTER ROLE tankside_worker SET plan_cache_mode = force_generic_plan;

SELECT 'CREATE DATABASE tankside OWNER tankside_owner TEMPLATE template0 ENCODING ''UTF8'''
WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = 'tankside') \gexec

REVOKE ALL ON DATABASE tankside FROM PUBLIC;
GRANT CONNECT ON DATABASE tankside TO tankside_app, tankside_worker;

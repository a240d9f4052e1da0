REVOKE SELECT ON schema_migrations FROM tankside_app;
DROP FUNCTION app_now();
DROP FUNCTION app_centre();
DROP EXTENSION btree_gist;

-- Feeds grow again.
REVOKE DELETE ON live_event FROM tankside_app;

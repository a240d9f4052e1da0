-- What is too old to be told to anybody who comes back to the live view is
-- deleted by the service. The number of the last event stays in live_head, so
-- that numbers go on and nothing is told twice.
GRANT DELETE ON live_event TO tankside_app;

-- What others may know of sign-offs: who signed whom in which session, voided ones
-- included, so that none of them is taken off it.

CREATE VIEW training_signed WITH (security_invoker) AS
SELECT centre_id, session_id, enrolment_id, signed_by FROM sign_off;
GRANT SELECT ON training_signed TO tankside_app;

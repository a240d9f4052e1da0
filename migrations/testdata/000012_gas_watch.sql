INSERT INTO entry (centre_id, id, kind, session_id, participant_id, enrolment_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000001', 'gas_response', 'c2000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002',
        'b3000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:40Z', '2026-06-06 09:45Z', ''),
    (app_centre(), 'e5000000-0000-0000-0000-000000000002', 'log_completion', 'c2000000-0000-0000-0000-000000000001', NULL, NULL,
        'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 12:40Z', '2026-06-06 12:45Z', '');

INSERT INTO gas_response (centre_id, id, participant_id, dive_id, what, note)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', 'c3000000-0000-0000-0000-000000000001', 'turned', 'the whole group');

INSERT INTO log_completion (centre_id, id, dive_id)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000002', 'c3000000-0000-0000-0000-000000000001');

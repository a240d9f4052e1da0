INSERT INTO gas_plan (centre_id, id, session_id, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000002', 'c2000000-0000-0000-0000-000000000001', '{}', '{}', '{}', '[]',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 10:30Z', '');

INSERT INTO gas_plan_withdrawn (centre_id, plan_id, session_id, reason, withdrawn_by, token_id, withdrawn_at)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000002', 'c2000000-0000-0000-0000-000000000001', 'another site',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 11:00Z');

INSERT INTO gas_settings (centre_id, settings, reason, updated_by, updated_at)
VALUES (app_centre(), '{"stress": 1.8}', 'cold water all year', 'a0000000-0000-0000-0000-000000000001', '2026-06-01Z');

INSERT INTO gas_plan (centre_id, id, session_id, dive_id, group_id, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'c3000000-0000-0000-0000-000000000001',
    'c4000000-0000-0000-0000-000000000001', '{}', '{}', '{}', '[]', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05Z', '');

INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low_value, low_unit, turn_value, turn_unit, start_value, start_unit)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', 900, 'psi', 900, 'psi', 2900, 'psi');

INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, group_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'c3000000-0000-0000-0000-000000000001',
    'c4000000-0000-0000-0000-000000000001', 1, '[]', '[]', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 10:00Z');

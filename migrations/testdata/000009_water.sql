INSERT INTO water_batch (centre_id, id, device, sent_at, received_at, correction_s, person_id, program, token_id, roles, scopes)
VALUES (app_centre(), 'e8000000-0000-0000-0000-000000000001', 'phone 1', '2026-06-06 10:00Z', '2026-06-06 10:01Z', 60, 'a0000000-0000-0000-0000-000000000001', '',
    'a3000000-0000-0000-0000-000000000001', '{instructor}', '{training:write}');

INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, body, item, state)
VALUES (app_centre(), 'e9000000-0000-0000-0000-000000000001', 'e9000000-0000-0000-0000-000000000002', 'e8000000-0000-0000-0000-000000000001', 'gas_check',
    'c2000000-0000-0000-0000-000000000001', '{}', '{}', 'held');

INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, body, item, state, correction_s, clock_id, ticks_ms, elapsed_ms, doubt)
VALUES (app_centre(), 'e9000000-0000-0000-0000-000000000033', 'e9000000-0000-0000-0000-000000000034', 'e8000000-0000-0000-0000-000000000001', 'gas_check',
    'c2000000-0000-0000-0000-000000000001', '{}', '{}', 'held', 1200, 'e9000000-0000-0000-0000-000000000035', 60000, 120000, 'ticks_differ');

INSERT INTO water_wait (centre_id, kind, id, water_id)
VALUES (app_centre(), 'dive', 'e9000000-0000-0000-0000-000000000042', 'e9000000-0000-0000-0000-000000000001');

INSERT INTO water_due (centre_id, kind, thing_id, due_at)
VALUES (app_centre(), 'batch', 'e8000000-0000-0000-0000-000000000001', '2026-06-06 10:01Z');

INSERT INTO water_wait (centre_id, kind, id, water_id)
VALUES (app_centre(), 'dive', 'e9000000-0000-0000-0000-000000000042', 'e9000000-0000-0000-0000-000000000001');

INSERT INTO water_due (centre_id, kind, thing_id, due_at)
VALUES (app_centre(), 'batch', 'e8000000-0000-0000-0000-000000000001', '2026-06-06 10:01Z');

INSERT INTO water_held (centre_id, token_id, held)
VALUES (app_centre(), 'a3000000-0000-0000-0000-000000000001', 1)
ON CONFLICT (centre_id, token_id) DO UPDATE SET held = 1;

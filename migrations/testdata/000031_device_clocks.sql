INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, digest, body, item, state, correction_s, clock_id, ticks_ms, elapsed_ms, doubt)
VALUES (app_centre(), 'e9000000-0000-0000-0000-000000000033', 'e9000000-0000-0000-0000-000000000034', 'e8000000-0000-0000-0000-000000000001', 'gas_check',
    'c2000000-0000-0000-0000-000000000001', '', '{}', '{}', 'held', 1200, 'e9000000-0000-0000-0000-000000000035', 60000, 120000, 'ticks_differ');

INSERT INTO water_batch (centre_id, id, device, sent_at, received_at, correction_s, person_id, program, token_id, roles, scopes)
VALUES (app_centre(), 'e8000000-0000-0000-0000-000000000001', 'phone 1', '2026-06-06 10:00Z', '2026-06-06 10:01Z', 60, 'a0000000-0000-0000-0000-000000000001', '',
    'a3000000-0000-0000-0000-000000000001', '{instructor}', '{training:write}');

INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, digest, body, item, state)
VALUES (app_centre(), 'e9000000-0000-0000-0000-000000000001', 'e9000000-0000-0000-0000-000000000002', 'e8000000-0000-0000-0000-000000000001', 'gas_check',
    'c2000000-0000-0000-0000-000000000001', '', '{}', '{}', 'held');

INSERT INTO entry_clock (centre_id, entry_id, device, correction_s)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000003', 'phone 1', 60);

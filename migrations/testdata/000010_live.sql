INSERT INTO live_head (centre_id, session_id, seq) VALUES (app_centre(), 'c2000000-0000-0000-0000-000000000001', 1);

INSERT INTO live_event (centre_id, session_id, seq, type, ref_id, at)
VALUES (app_centre(), 'c2000000-0000-0000-0000-000000000001', 1, 'gas_check', 'e1000000-0000-0000-0000-000000000003', '2026-06-06 09:35Z');

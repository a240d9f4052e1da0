INSERT INTO convention (centre_id, id, code, name, content, body_digest, created_at, updated_at)
VALUES (app_centre(), 'f0000000-0000-0000-0000-000000000001', 'ours', 'Ours', '{"unit": "bar", "hands": 1, "style": "digits", "signs": []}', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
SELECT app_centre(), id::uuid, kind, 'c2000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001',
    'a3000000-0000-0000-0000-000000000001', '2026-06-06 08:40Z', '2026-06-06 08:41Z', ''
FROM (VALUES ('f1000000-0000-0000-0000-000000000001', 'briefing'), ('f1000000-0000-0000-0000-000000000002', 'acknowledgement')) x (id, kind);

INSERT INTO briefing (centre_id, id, session_id, convention, check_every_s, content)
VALUES (app_centre(), 'f1000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001',
    '{"code": "digits_bar", "unit": "bar", "hands": 1, "style": "digits", "signs": []}', 120, '{}');

INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
VALUES (app_centre(), 'f1000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000002', 'psi', '[]', '\x01');

INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how)
VALUES (app_centre(), 'f1000000-0000-0000-0000-000000000002', 'f1000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000002', 'said_so');

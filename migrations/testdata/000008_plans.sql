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

INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
VALUES (app_centre(), 'f1000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001', 'bar',
    '[{"dive_id": null, "plan_id": null, "start": null, "turn": {"value": 120, "unit": "bar"}, "low": {"value": 60, "unit": "bar"}}]', '\x02');

INSERT INTO gas_settings (centre_id, settings, confined_floor, reason, updated_by, updated_at)
VALUES (app_centre(), '{"stress": 1.8}', '{"value": 600, "unit": "psi"}', 'cold water all year', 'a0000000-0000-0000-0000-000000000001', '2026-06-01Z');

INSERT INTO gas_plan (centre_id, id, session_id, dive_id, group_id, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'c3000000-0000-0000-0000-000000000001',
    'c4000000-0000-0000-0000-000000000001', '{}', '{}', '{}', '[]', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05Z', '');

INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low, turn, start)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', '(900,psi)', '(900,psi)', '(2900,psi)');

INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, group_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'c3000000-0000-0000-0000-000000000001',
    'c4000000-0000-0000-0000-000000000001', 1, '[]', '[]', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 10:00Z');

INSERT INTO gas_plan (centre_id, id, session_id, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000002', 'c2000000-0000-0000-0000-000000000001', '{}', '{}', '{}', '[]',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 10:30Z', '');

INSERT INTO gas_plan_withdrawn (centre_id, plan_id, session_id, reason, withdrawn_by, token_id, withdrawn_at)
VALUES (app_centre(), 'f3000000-0000-0000-0000-000000000002', 'c2000000-0000-0000-0000-000000000001', 'another site',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-05 11:00Z');

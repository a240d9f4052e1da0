INSERT INTO entry (centre_id, id, kind, session_id, outing_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
SELECT app_centre(), id::uuid, kind, 'c2000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:00Z', '2026-06-06 09:05Z', ''
FROM (VALUES ('e0000000-0000-0000-0000-000000000001', 'roll_call'), ('e0000000-0000-0000-0000-000000000002', 'conditions'),
    ('e0000000-0000-0000-0000-000000000003', 'head_count'), ('e0000000-0000-0000-0000-000000000004', 'incident')) x (id, kind);

INSERT INTO entry_void (centre_id, entry_id, reason, voided_by, token_id, voided_at)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000004', 'written twice', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 10:00Z');

INSERT INTO roll_call (centre_id, id, participant_id, attendance)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', 'present');

INSERT INTO conditions_report (centre_id, id, visibility)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000002', '(12,m)');

INSERT INTO head_count (centre_id, id, phase, figure, on_list)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000003', 'departure', 3, 3);

INSERT INTO incident (centre_id, id, what)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000004', 'A cut finger.');

INSERT INTO incident_person (centre_id, incident_id, person_id)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000004', 'a0000000-0000-0000-0000-000000000002');

INSERT INTO entry_clock (centre_id, entry_id, device, correction_s)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000001', 'phone 1', 60);

INSERT INTO entry (centre_id, id, kind, session_id, outing_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000a01', 'roll_call', 'c2000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001',
    'c5000000-0000-0000-0000-000000000002', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:00Z', '2026-06-06 09:05Z', '');

INSERT INTO roll_call (centre_id, id, participant_id, attendance, role, group_id, enrolment_id)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000a01', 'c5000000-0000-0000-0000-000000000002', 'present', 'student',
    'c4000000-0000-0000-0000-000000000001', 'b3000000-0000-0000-0000-000000000001');

INSERT INTO head_count_name (centre_id, head_count_id, number, person_id, guest_id, accounted_for) VALUES
    (app_centre(), 'e0000000-0000-0000-0000-000000000003', 1, 'a0000000-0000-0000-0000-000000000001', NULL, NULL),
    (app_centre(), 'e0000000-0000-0000-0000-000000000003', 2, NULL, 'c1000000-0000-0000-0000-000000000001', 'ashore, the harbour office saw him');

INSERT INTO entry (centre_id, id, kind, outing_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000b01', 'head_count', 'c0000000-0000-0000-0000-000000000001',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:50Z', '2026-06-06 09:51Z', '');

INSERT INTO head_count (centre_id, id, phase, dive_number, figure, on_list)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000b01', 'after_dive', 1, 3, 3);

INSERT INTO entry (centre_id, id, kind, session_id, outing_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000b02', 'roll_call', 'c2000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001',
    'c5000000-0000-0000-0000-000000000002', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 10:50Z', '2026-06-06 10:55Z', '');

INSERT INTO roll_call (centre_id, id, participant_id, attendance, aboard)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000b02', 'c5000000-0000-0000-0000-000000000002', 'left_early', false);

INSERT INTO entry (centre_id, id, kind, session_id, outing_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000a01', 'roll_call', 'c2000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001',
    'c5000000-0000-0000-0000-000000000002', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:00Z', '2026-06-06 09:05Z', '');

INSERT INTO roll_call (centre_id, id, participant_id, attendance, role, group_id, enrolment_id)
VALUES (app_centre(), 'e0000000-0000-0000-0000-000000000a01', 'c5000000-0000-0000-0000-000000000002', 'present', 'student',
    'c4000000-0000-0000-0000-000000000001', 'b3000000-0000-0000-0000-000000000001');

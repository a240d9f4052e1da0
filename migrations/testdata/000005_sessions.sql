INSERT INTO outing (centre_id, id, title, on_day, body_digest, created_at, updated_at)
VALUES (app_centre(), 'c0000000-0000-0000-0000-000000000001', 'Saturday boat', '2026-06-06', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO outing_guest (centre_id, id, outing_id, name, body_digest, created_at)
VALUES (app_centre(), 'c1000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001', 'Skipper', '', '2026-06-01Z');

INSERT INTO session (centre_id, id, course_id, kind, title, site_id, outing_id, starts_local, ends_local, time_zone, starts_at, ends_at, during, on_day, body_digest, created_at, updated_at)
VALUES (app_centre(), 'c2000000-0000-0000-0000-000000000001', 'b2000000-0000-0000-0000-000000000001', 'open', 'Open water',
    'b0000000-0000-0000-0000-000000000001', 'c0000000-0000-0000-0000-000000000001', '2026-06-06 10:00', '2026-06-06 12:00', 'Europe/Lisbon',
    '2026-06-06 09:00Z', '2026-06-06 11:00Z', '[2026-06-06 09:00Z,2026-06-06 11:00Z)', '2026-06-06', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO dive (centre_id, id, session_id, number, training_dive)
VALUES (app_centre(), 'c3000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 1, 1);

INSERT INTO session_group (centre_id, id, session_id, name, students, places, body_digest, created_at, updated_at)
VALUES (app_centre(), 'c4000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'blue', 1, 8, '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO participant (centre_id, id, session_id, group_id, person_id, enrolment_id, role, gauge_unit, during, body_digest, created_at, updated_at) VALUES
    (app_centre(), 'c5000000-0000-0000-0000-000000000001', 'c2000000-0000-0000-0000-000000000001', 'c4000000-0000-0000-0000-000000000001',
        'a0000000-0000-0000-0000-000000000001', NULL, 'in_charge', 'bar', '[2026-06-06 09:00Z,2026-06-06 11:00Z)', '', '2026-06-01Z', '2026-06-01Z'),
    (app_centre(), 'c5000000-0000-0000-0000-000000000002', 'c2000000-0000-0000-0000-000000000001', 'c4000000-0000-0000-0000-000000000001',
        'a0000000-0000-0000-0000-000000000002', 'b3000000-0000-0000-0000-000000000001', 'student', 'psi', '[2026-06-06 09:00Z,2026-06-06 11:00Z)', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO clearance (centre_id, id, group_id, cleared, cause, findings, changed_at)
VALUES (app_centre(), 'c6000000-0000-0000-0000-000000000001', 'c4000000-0000-0000-0000-000000000001', false, 'roll_call', '[]', '2026-06-06Z');

-- A session that was broken off early, and another in which the same person is
-- booked within the time that it was planned for.
INSERT INTO session (centre_id, id, course_id, kind, title, starts_local, ends_local, time_zone, starts_at, ends_at, during, on_day,
    state, state_reason, opened_at, ended_at, body_digest, created_at, updated_at)
VALUES (app_centre(), 'c2000000-0000-0000-0000-000000000023', 'b2000000-0000-0000-0000-000000000001', 'theory', 'Broken off', '2026-06-05 10:00', '2026-06-05 13:00',
        'Europe/Lisbon', '2026-06-05 09:00Z', '2026-06-05 12:00Z', '[2026-06-05 09:00Z,2026-06-05 10:00Z)', '2026-06-05', 'abandoned', 'power cut',
        '2026-06-05 09:00Z', '2026-06-05 10:00Z', '', '2026-06-01Z', '2026-06-01Z'),
    (app_centre(), 'c2000000-0000-0000-0000-000000000024', 'b2000000-0000-0000-0000-000000000001', 'theory', 'Instead', '2026-06-05 12:00', '2026-06-05 13:00',
        'Europe/Lisbon', '2026-06-05 11:00Z', '2026-06-05 12:00Z', '[2026-06-05 11:00Z,2026-06-05 12:00Z)', '2026-06-05', 'planned', NULL,
        NULL, NULL, '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO participant (centre_id, id, session_id, person_id, role, gauge_unit, during, body_digest, created_at, updated_at) VALUES
    (app_centre(), 'c5000000-0000-0000-0000-000000000023', 'c2000000-0000-0000-0000-000000000023', 'a0000000-0000-0000-0000-000000000001', 'assistant', 'bar',
        '[2026-06-05 09:00Z,2026-06-05 10:00Z)', '', '2026-06-01Z', '2026-06-01Z'),
    (app_centre(), 'c5000000-0000-0000-0000-000000000024', 'c2000000-0000-0000-0000-000000000024', 'a0000000-0000-0000-0000-000000000001', 'assistant', 'bar',
        '[2026-06-05 11:00Z,2026-06-05 12:00Z)', '', '2026-06-01Z', '2026-06-01Z');

-- The one in charge stays on the boat.
UPDATE participant SET not_diving = true, not_diving_by = 'a0000000-0000-0000-0000-000000000001', not_diving_at = '2026-06-06 08:30Z'
WHERE centre_id = app_centre() AND id = 'c5000000-0000-0000-0000-000000000001';

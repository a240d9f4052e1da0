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

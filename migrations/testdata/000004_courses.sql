INSERT INTO site (centre_id, id, name, kind, water, max_depth, emergency, body_digest, created_at, updated_at)
VALUES (app_centre(), 'b0000000-0000-0000-0000-000000000001', 'The bay', 'open', 'salt', '(18,m)', 'the emergency call', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO syllabus (centre_id, id, title, newest, body_digest, created_at, updated_at)
VALUES (app_centre(), 'b1000000-0000-0000-0000-000000000001', 'First course', 1, '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO syllabus_version (centre_id, syllabus_id, number, content, level, made_at, body_digest)
VALUES (app_centre(), 'b1000000-0000-0000-0000-000000000001', 1, '{}', 'entry_level', '2026-06-01Z', '');

INSERT INTO course (centre_id, id, title, syllabus_id, syllabus_number, starts_on, ends_on, body_digest, created_at, updated_at)
VALUES (app_centre(), 'b2000000-0000-0000-0000-000000000001', 'Weekend', 'b1000000-0000-0000-0000-000000000001', 1, '2026-06-05', '2026-06-07', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO enrolment (centre_id, id, course_id, person_id, state, body_digest, created_at, updated_at)
VALUES (app_centre(), 'b3000000-0000-0000-0000-000000000001', 'b2000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000002', 'active', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at, updated_at) VALUES
    (app_centre(), 'a0000000-0000-0000-0000-000000000001', 'Ines Instructor', '1985-03-01', 'bar', '', '2026-06-01Z', '2026-06-01Z'),
    (app_centre(), 'a0000000-0000-0000-0000-000000000002', 'Sara Student', '1995-05-05', 'psi', '', '2026-06-01Z', '2026-06-01Z');

INSERT INTO person_role (centre_id, person_id, role) VALUES
    (app_centre(), 'a0000000-0000-0000-0000-000000000001', 'instructor'),
    (app_centre(), 'a0000000-0000-0000-0000-000000000002', 'student');

INSERT INTO paper (centre_id, id, person_id, kind, outcome, issued_on, seen_by, body_digest, recorded_at, recorded_by)
SELECT app_centre(), id::uuid, 'a0000000-0000-0000-0000-000000000002', 'waiver', 'valid', '2026-05-01', 'a0000000-0000-0000-0000-000000000001', '',
    '2026-06-01Z', 'a0000000-0000-0000-0000-000000000001'
FROM unnest(ARRAY['a1000000-0000-0000-0000-000000000001', 'a1000000-0000-0000-0000-000000000002']) id;

INSERT INTO paper_void (centre_id, paper_id, reason, voided_by, voided_at)
VALUES (app_centre(), 'a1000000-0000-0000-0000-000000000002', 'of somebody else', 'a0000000-0000-0000-0000-000000000001', '2026-06-02Z');

INSERT INTO unfit_mark (centre_id, id, person_id, on_day, marked_by, marked_at, body_digest)
SELECT app_centre(), id::uuid, 'a0000000-0000-0000-0000-000000000002', '2026-06-06', 'a0000000-0000-0000-0000-000000000001', '2026-06-01Z', ''
FROM unnest(ARRAY['a2000000-0000-0000-0000-000000000001', 'a2000000-0000-0000-0000-000000000002']) id;

INSERT INTO unfit_lift (centre_id, mark_id, reason, lifted_by, lifted_at)
VALUES (app_centre(), 'a2000000-0000-0000-0000-000000000002', 'a slip of the finger', 'a0000000-0000-0000-0000-000000000001', '2026-06-02Z');

INSERT INTO token (centre_id, id, person_id, hash, scopes, issued_at, expires_at, body_digest)
VALUES (app_centre(), 'a3000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001', '\x01', '{}', '2026-06-01Z', '2027-06-01Z', '');

INSERT INTO person_correction (centre_id, id, person_id, member, before, after, reason, corrected_by, corrected_at)
VALUES (app_centre(), 'a6000000-0000-0000-0000-000000000030', 'a0000000-0000-0000-0000-000000000001', 'birth_on', '1994-03-12', '1994-03-21',
    'passport seen', 'a0000000-0000-0000-0000-000000000001', '2026-06-06Z');

INSERT INTO ticket (centre_id, hash, token_id, address, issued_at, expires_at)
VALUES (app_centre(), '\x03', 'a3000000-0000-0000-0000-000000000001', '/v1/live?session_id=c2000000-0000-0000-0000-000000000001', '2026-06-06 09:00Z', '2026-06-06 09:01Z');

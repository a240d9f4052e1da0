INSERT INTO entry (centre_id, id, kind, session_id, participant_id, enrolment_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
SELECT app_centre(), id::uuid, kind, 'c2000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', 'b3000000-0000-0000-0000-000000000001',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:30Z', '2026-06-06 09:35Z', ''
FROM (VALUES ('e1000000-0000-0000-0000-000000000001', 'time_in'), ('e1000000-0000-0000-0000-000000000002', 'time_out'),
    ('e1000000-0000-0000-0000-000000000003', 'gas_check'), ('e1000000-0000-0000-0000-000000000004', 'drill_attempt'),
    ('e1000000-0000-0000-0000-000000000005', 'theory_result')) x (id, kind);

INSERT INTO time_in (centre_id, id, dive_id, participant_id)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000001', 'c3000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002');

INSERT INTO time_out (centre_id, id, time_in_id)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000002', 'e1000000-0000-0000-0000-000000000001');

INSERT INTO gas_check (centre_id, id, participant_id, dive_id, reading, verdict)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000003', 'c5000000-0000-0000-0000-000000000002', 'c3000000-0000-0000-0000-000000000001', '(1800,psi)', 'unverified');

INSERT INTO drill_attempt (centre_id, id, participant_id, enrolment_id, skill, measures, claimed, met)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000004', 'c5000000-0000-0000-0000-000000000002', 'b3000000-0000-0000-0000-000000000001', 'mask', '{}', true, true);

INSERT INTO theory_result (centre_id, id, enrolment_id, part, percent, pass_mark)
VALUES (app_centre(), 'e1000000-0000-0000-0000-000000000005', 'b3000000-0000-0000-0000-000000000001', 'one', 85, 80);

INSERT INTO credit (centre_id, id, enrolment_id, what, code, done_at_centre, done_by, done_on, document, accepted_by, accepted_at, body_digest)
VALUES (app_centre(), 'e2000000-0000-0000-0000-000000000001', 'b3000000-0000-0000-0000-000000000001', 'skill', 'mask', 'Far Bank', 'N. N.', '2026-05-01', 'letter',
    'a0000000-0000-0000-0000-000000000001', '2026-06-01Z', '');

INSERT INTO credit_void (centre_id, credit_id, reason, voided_by, voided_at)
VALUES (app_centre(), 'e2000000-0000-0000-0000-000000000001', 'the letter was withdrawn', 'a0000000-0000-0000-0000-000000000001', '2026-06-02Z');

INSERT INTO sign_off (centre_id, id, enrolment_id, skill, round, session_id, signed_by, witnessed_on, signed_at, recorded_at, evidence, rests_on, findings, body_digest)
VALUES (app_centre(), 'e3000000-0000-0000-0000-000000000001', 'b3000000-0000-0000-0000-000000000001', 'mask', 1, 'c2000000-0000-0000-0000-000000000001',
    'a0000000-0000-0000-0000-000000000001', '2026-06-06', '2026-06-06 12:00Z', '2026-06-06 12:00Z', '{e1000000-0000-0000-0000-000000000004}', '{}', '[]', '');

INSERT INTO sign_off_void (centre_id, sign_off_id, reason, voided_by, voided_at)
VALUES (app_centre(), 'e3000000-0000-0000-0000-000000000001', 'the wrong student', 'a0000000-0000-0000-0000-000000000001', '2026-06-06 13:00Z');

INSERT INTO completion (centre_id, id, enrolment_id, round, signed_by, signed_at, rests_on, findings, body_digest)
VALUES (app_centre(), 'e4000000-0000-0000-0000-000000000001', 'b3000000-0000-0000-0000-000000000001', 1, 'a0000000-0000-0000-0000-000000000001', '2026-06-07Z', '{}', '[]', '');

INSERT INTO completion_void (centre_id, completion_id, reason, voided_by, voided_at)
VALUES (app_centre(), 'e4000000-0000-0000-0000-000000000001', 'signed too early', 'a0000000-0000-0000-0000-000000000001', '2026-06-07 10:00Z');

INSERT INTO entry (centre_id, id, kind, session_id, participant_id, enrolment_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000001', 'gas_response', 'c2000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002',
        'b3000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 09:40Z', '2026-06-06 09:45Z', ''),
    (app_centre(), 'e5000000-0000-0000-0000-000000000002', 'log_completion', 'c2000000-0000-0000-0000-000000000001', NULL, NULL,
        'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '2026-06-06 12:40Z', '2026-06-06 12:45Z', '');

INSERT INTO gas_response (centre_id, id, participant_id, dive_id, what, note)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000001', 'c5000000-0000-0000-0000-000000000002', 'c3000000-0000-0000-0000-000000000001', 'turned', 'the whole group');

INSERT INTO log_completion (centre_id, id, dive_id)
VALUES (app_centre(), 'e5000000-0000-0000-0000-000000000002', 'c3000000-0000-0000-0000-000000000001');

INSERT INTO ledger_head (centre_id, subject_type, subject_id, seq, hash)
VALUES (app_centre(), 'group', 'c4000000-0000-0000-0000-000000000001', 1, '\x02');

INSERT INTO ledger_entry (centre_id, subject_type, subject_id, seq, kind, ref_id, at, canonical, prev, hash)
VALUES (app_centre(), 'group', 'c4000000-0000-0000-0000-000000000001', 1, 'clearance_lost', 'c6000000-0000-0000-0000-000000000001', '2026-06-06Z', '{}', '\x01', '\x02');

INSERT INTO decision (centre_id, id, kind, subject_type, subject_id, decided_at, person_id, token_id, judged_on, findings)
VALUES (app_centre(), 'd0000000-0000-0000-0000-000000000001', 'create_placements', 'session', 'c2000000-0000-0000-0000-000000000001', '2026-06-01Z',
    'a0000000-0000-0000-0000-000000000001', 'a3000000-0000-0000-0000-000000000001', '{}', '[]');

INSERT INTO ledger_salt (centre_id, kind, ref_id, salt)
VALUES (app_centre(), 'identity_corrected', 'a6000000-0000-0000-0000-000000000030', '\x000102030405060708090a0b0c0d0e0f');

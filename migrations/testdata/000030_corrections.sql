INSERT INTO ledger_salt (centre_id, kind, ref_id, salt)
VALUES (app_centre(), 'identity_corrected', 'a6000000-0000-0000-0000-000000000030', '\x000102030405060708090a0b0c0d0e0f');

INSERT INTO person_correction (centre_id, id, person_id, member, before, after, reason, corrected_by, corrected_at)
VALUES (app_centre(), 'a6000000-0000-0000-0000-000000000030', 'a0000000-0000-0000-0000-000000000001', 'birth_on', '1994-03-12', '1994-03-21',
    'passport seen', 'a0000000-0000-0000-0000-000000000001', '2026-06-06Z');

-- The one in charge stays on the boat.
UPDATE participant SET not_diving = true, not_diving_by = 'a0000000-0000-0000-0000-000000000001', not_diving_at = '2026-06-06 08:30Z'
WHERE centre_id = app_centre() AND id = 'c5000000-0000-0000-0000-000000000001';

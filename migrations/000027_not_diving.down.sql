-- Loses who was not to dive.

DROP VIEW sessions_not_diving;
ALTER TABLE participant DROP not_diving, DROP not_diving_by, DROP not_diving_at;

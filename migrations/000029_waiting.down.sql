DROP INDEX water_entry_refused;
DROP INDEX water_batch_by_token;

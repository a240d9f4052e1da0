ALTER TABLE sign_off DROP from_water, DROP evidence_named, DROP recorded_at;
DROP TABLE entry_clock;
DROP TABLE water_entry;
DROP TABLE water_batch;

DELETE FROM water_entry WHERE kind IN ('gas_response', 'log_completion');
ALTER TABLE water_entry DROP CONSTRAINT water_entry_kind_check, ADD CONSTRAINT water_entry_kind_check CHECK (kind IN ('roll_call', 'conditions',
    'head_count', 'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'sign_off'));

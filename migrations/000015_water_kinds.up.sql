-- A device without coverage also keeps what was done about gas, and that its log
-- is complete.

ALTER TABLE water_entry DROP CONSTRAINT water_entry_kind_check, ADD CONSTRAINT water_entry_kind_check CHECK (kind IN ('roll_call', 'conditions',
    'head_count', 'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'gas_response', 'log_completion', 'sign_off'));

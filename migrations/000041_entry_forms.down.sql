-- Refuses where a kind is there that the former release does not know.
ALTER TABLE entry
    DROP CONSTRAINT entry_kind_check,
    ADD CONSTRAINT entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident', 'dive_start', 'dive_end',
        'gas_check', 'drill_attempt', 'theory_result', 'gas_response', 'log_completion', 'briefing', 'acknowledgement'));
ALTER TABLE water_entry
    DROP CONSTRAINT water_entry_kind_check,
    ADD CONSTRAINT water_entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident',
        'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'gas_response', 'log_completion', 'sign_off', 'malformed')),
    DROP received,
    DROP form;

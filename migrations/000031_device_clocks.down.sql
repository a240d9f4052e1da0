-- An entry that could not be read has no place before this: such rows never
-- stood, and are deleted. The readings of timers are lost; the times that were
-- found by them stay.

ALTER TABLE entry_clock
    DROP clock_id,
    DROP ticks_ms,
    DROP elapsed_ms,
    DROP wall_correction_s,
    DROP doubt;

DELETE FROM water_entry WHERE kind = 'malformed';
ALTER TABLE water_entry
    DROP CONSTRAINT water_entry_timed,
    DROP CONSTRAINT water_entry_unreadable_is_refused,
    DROP CONSTRAINT water_entry_malformed,
    DROP CONSTRAINT water_entry_kind_check,
    ADD CONSTRAINT water_entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident',
        'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'gas_response', 'log_completion', 'sign_off')),
    DROP sent,
    DROP correction_s,
    DROP clock_id,
    DROP ticks_ms,
    DROP elapsed_ms,
    DROP doubt;

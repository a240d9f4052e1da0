-- An entry of a batch that cannot be read is refused alone and kept as it was
-- sent. And an entry may carry a reading of a timer that counts milliseconds and
-- is never set: the time of an entry is then found by the ticks that passed until
-- it was sent, whatever happened to the device's clock meanwhile.

ALTER TABLE water_entry
    DROP CONSTRAINT water_entry_kind_check,
    ADD CONSTRAINT water_entry_kind_check CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident',
        'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'gas_response', 'log_completion', 'sign_off', 'malformed')),
    ADD sent              bytea,  -- the bytes of an entry that cannot be read; null where body has what was sent
    ADD correction_s      bigint, -- added to the device's times; null: the batch's correction, its clock's alone
    ADD clock_id          uuid,   -- of the timer that the entry was read on; null: none
    ADD ticks_ms          bigint CHECK (ticks_ms BETWEEN 0 AND 9007199254740991),
    ADD elapsed_ms        bigint CHECK (elapsed_ms >= 0), -- by the timer, until the batch was sent; null: it had ended
    ADD doubt             text CHECK (doubt IN ('ticks_lost', 'ticks_differ')),
    ADD CONSTRAINT water_entry_malformed CHECK (CASE WHEN kind = 'malformed' THEN sent IS NOT NULL ELSE true END),
    ADD CONSTRAINT water_entry_unreadable_is_refused CHECK (sent IS NULL OR state = 'refused'),
    ADD CONSTRAINT water_entry_timed CHECK ((clock_id IS NULL) = (ticks_ms IS NULL));

ALTER TABLE entry_clock
    ADD clock_id          uuid,
    ADD ticks_ms          bigint,
    ADD elapsed_ms        bigint,
    ADD wall_correction_s bigint, -- what the device's clock alone would have had added; null: no timer
    ADD doubt             text CHECK (doubt IN ('ticks_lost', 'ticks_differ'));

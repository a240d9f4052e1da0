-- What was done about gas in the water, and when the log of a session or of one
-- of its dives is complete, so that lateness may be judged. Both are entries of
-- the journal; which pressure was reached at which check, what is open and what
-- was late follows from the entries when they are read, and is kept nowhere.

-- Two kinds more, whichever there are.
DO $$ BEGIN
    EXECUTE (SELECT 'ALTER TABLE entry DROP CONSTRAINT entry_kind_check, ADD CONSTRAINT entry_kind_check '
        || replace(pg_get_constraintdef(oid), '''theory_result''::text', '''theory_result''::text, ''gas_response''::text, ''log_completion''::text')
        FROM pg_constraint WHERE conrelid = 'entry'::regclass AND conname = 'entry_kind_check');
END $$;

CREATE TABLE gas_response (
    centre_id      uuid NOT NULL,
    id             uuid NOT NULL,
    kind           text NOT NULL DEFAULT 'gas_response' CHECK (kind = 'gas_response'),
    participant_id uuid NOT NULL,
    dive_id        uuid,             -- null: the one under way at its time
    what           text NOT NULL CHECK (what IN ('turned', 'signalled_low', 'ascent_begun')),
    note           text CHECK (length(note) BETWEEN 1 AND 2000),
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, participant_id) REFERENCES participant,
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive
);
CREATE INDEX gas_response_of_participant ON gas_response (centre_id, participant_id);
CALL bind_to_centre('gas_response', 'SELECT, INSERT');

CREATE TABLE log_completion (
    centre_id uuid NOT NULL,
    id        uuid NOT NULL,
    kind      text NOT NULL DEFAULT 'log_completion' CHECK (kind = 'log_completion'),
    dive_id   uuid,                  -- null: the whole session
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, id, kind) REFERENCES entry (centre_id, id, kind),
    FOREIGN KEY (centre_id, dive_id) REFERENCES dive
);
CALL bind_to_centre('log_completion', 'SELECT, INSERT');

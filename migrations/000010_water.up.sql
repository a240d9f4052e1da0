-- Batches from the water: what a device kept while it had no coverage, as it
-- was sent, whatever became of it; and beside each time its device's clock.

CREATE TABLE water_batch (
    centre_id    uuid NOT NULL REFERENCES centre,
    id           uuid NOT NULL,
    device       text NOT NULL CHECK (length(device) BETWEEN 1 AND 200),
    sent_at      timestamptz NOT NULL, -- by the device's clock
    received_at  timestamptz NOT NULL, -- by ours
    correction_s bigint NOT NULL,      -- added to the device's times; 0 where its clock was right
    person_id    uuid,                 -- who sent it; null for a program
    program      text NOT NULL,
    token_id     uuid NOT NULL,
    roles        text[] NOT NULL,      -- of the sender, when it was sent: what is held is judged by them later
    scopes       text[] NOT NULL,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, token_id) REFERENCES token
);
CALL bind_to_centre('water_batch', 'SELECT, INSERT');

-- One row for each entry, by what it says: the same entry sent again is the same
-- row. What it names may not exist yet, so session_id, dive_id and outing_id
-- have no foreign key.
CREATE TABLE water_entry (
    centre_id    uuid NOT NULL,
    id           uuid NOT NULL,        -- of the entry's id and digest
    entry_id     uuid NOT NULL,        -- chosen by the device
    batch_id     uuid NOT NULL,        -- that brought it first, and whose clock counts
    kind         text NOT NULL CHECK (kind IN ('roll_call', 'conditions', 'head_count', 'incident', 'dive_start', 'dive_end', 'gas_check', 'drill_attempt', 'sign_off')),
    session_id   uuid,
    dive_id      uuid,
    outing_id    uuid,
    enrolment_id uuid,                 -- of a sign-off
    digest       bytea NOT NULL,
    body         jsonb NOT NULL,       -- as the device sent it
    item         jsonb,                -- as it was understood, in the device's times; null when it was outside the contract
    state        text NOT NULL CHECK (state IN ('held', 'recorded', 'refused', 'dropped')),
    problem      jsonb,                -- why it is held or refused
    device_at    timestamptz,          -- of what was witnessed, by the device's clock; null where it cannot be told
    judged_at    timestamptz,
    drop_reason  text CHECK (length(drop_reason) BETWEEN 1 AND 2000),
    dropped_by   uuid,
    dropped_at   timestamptz,
    PRIMARY KEY (centre_id, id),
    FOREIGN KEY (centre_id, batch_id) REFERENCES water_batch,
    FOREIGN KEY (centre_id, dropped_by) REFERENCES person,
    CONSTRAINT water_entry_dropped_with_reason CHECK ((state = 'dropped') = (drop_reason IS NOT NULL))
);
CREATE INDEX water_entry_held ON water_entry (centre_id, session_id) WHERE state = 'held';
CREATE INDEX water_entry_by_id ON water_entry (centre_id, entry_id);
CREATE INDEX water_entry_by_state ON water_entry (centre_id, state, id);
CALL bind_to_centre('water_entry', 'SELECT, INSERT, UPDATE');

-- The clock of the device stands beside the corrected time of an entry: the
-- device's time is witnessed_at less the correction.
CREATE TABLE entry_clock (
    centre_id    uuid NOT NULL,
    entry_id     uuid NOT NULL,
    device       text NOT NULL,
    correction_s bigint NOT NULL,
    PRIMARY KEY (centre_id, entry_id),
    FOREIGN KEY (centre_id, entry_id) REFERENCES entry
);
CALL bind_to_centre('entry_clock', 'SELECT, INSERT');

-- A sign-off made without coverage has its own time of signing beside the time
-- at which it was recorded. One skill may then be signed off by two people: the
-- earlier counts, the other supports it, and round only numbers them as they
-- were recorded.
ALTER TABLE sign_off
    ADD from_water     boolean NOT NULL DEFAULT false,
    ADD evidence_named boolean NOT NULL DEFAULT true, -- false: it rests on whatever attempts of its day count
    ADD recorded_at    timestamptz;
UPDATE sign_off SET recorded_at = signed_at;
ALTER TABLE sign_off ALTER recorded_at SET NOT NULL;

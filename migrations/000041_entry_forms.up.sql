-- What an entry says is stored in a form with a number, whose names do not follow the
-- program's. The bytes that a device sent are kept as they came. And a kind of entry is
-- declared in one place, the program's registry: the header takes any name, and the
-- row of details with the same id and kind is what makes it one of the kinds.

ALTER TABLE water_entry
    ADD form     smallint NOT NULL DEFAULT 1,
    ADD received bytea, -- the entry as it came, byte for byte; null: from before these were kept
    DROP CONSTRAINT water_entry_kind_check,
    ADD CONSTRAINT water_entry_kind_check CHECK (kind ~ '^[a-z_]{1,40}$');
ALTER TABLE entry
    DROP CONSTRAINT entry_kind_check,
    ADD CONSTRAINT entry_kind_check CHECK (kind ~ '^[a-z_]{1,40}$');

-- Ids are chosen by whoever creates a thing, so one id may stand for things of
-- two kinds: a person and an enrolment, a person and a group. A chain of the
-- ledger therefore belongs to a kind of thing and its id, and not to the id
-- alone, or the second kind could have no chain and what is decided about it
-- could not be kept. Every chain has one kind so far, which its head names. No
-- hash changes: the kind was in the canonical form from the beginning.

ALTER TABLE ledger_entry ADD COLUMN subject_type text;
UPDATE ledger_entry e SET subject_type = h.subject_type
FROM ledger_head h
WHERE h.centre_id = e.centre_id AND h.subject_id = e.subject_id;
ALTER TABLE ledger_entry
    ALTER COLUMN subject_type SET NOT NULL,
    DROP CONSTRAINT ledger_entry_centre_id_subject_id_fkey,
    DROP CONSTRAINT ledger_entry_pkey;
ALTER TABLE ledger_head
    DROP CONSTRAINT ledger_head_pkey,
    ADD PRIMARY KEY (centre_id, subject_type, subject_id);
ALTER TABLE ledger_entry
    ADD PRIMARY KEY (centre_id, subject_type, subject_id, seq),
    ADD FOREIGN KEY (centre_id, subject_type, subject_id) REFERENCES ledger_head;

CREATE OR REPLACE VIEW ledger_chain WITH (security_invoker) AS
SELECT centre_id, subject_id, seq, kind, ref_id, at, hash, subject_type
FROM ledger_entry;

-- What was accepted before is asked for by kind and id too.
DROP INDEX decision_of_subject;
CREATE INDEX decision_of_subject ON decision (centre_id, subject_type, subject_id, decided_at);

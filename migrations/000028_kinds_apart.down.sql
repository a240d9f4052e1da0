-- Fails where one id has chains of two kinds: the release before this one has no
-- room for the second, and nothing is taken out of a ledger.
DROP INDEX decision_of_subject;
CREATE INDEX decision_of_subject ON decision (centre_id, subject_id, decided_at);
DROP VIEW ledger_chain;
ALTER TABLE ledger_entry
    DROP CONSTRAINT ledger_entry_centre_id_subject_type_subject_id_fkey,
    DROP CONSTRAINT ledger_entry_pkey;
ALTER TABLE ledger_head
    DROP CONSTRAINT ledger_head_pkey,
    ADD PRIMARY KEY (centre_id, subject_id);
ALTER TABLE ledger_entry
    DROP COLUMN subject_type,
    ADD PRIMARY KEY (centre_id, subject_id, seq),
    ADD FOREIGN KEY (centre_id, subject_id) REFERENCES ledger_head;
CREATE VIEW ledger_chain WITH (security_invoker) AS
SELECT centre_id, subject_id, seq, kind, ref_id, at, hash
FROM ledger_entry;
GRANT SELECT ON ledger_chain TO tankside_app;

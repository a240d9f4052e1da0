-- Takes away the ledger and the decisions, which cannot be made again: only for a database
-- that holds nothing worth keeping.
DROP VIEW ledger_chain;
DROP TABLE decision, ledger_salt, ledger_entry, ledger_head;

ALTER TABLE entry_void DROP COLUMN in_ledger;

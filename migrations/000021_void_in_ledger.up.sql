-- That something witnessed was voided is decided by somebody, so it goes into the
-- ledger. Voids from before this migration have no entry there, and none is made
-- for them afterwards: in_ledger says so of each.

ALTER TABLE entry_void ADD COLUMN in_ledger boolean NOT NULL DEFAULT false;
ALTER TABLE entry_void ALTER COLUMN in_ledger SET DEFAULT true;

ALTER TABLE gas_check DROP COLUMN signalled_with;

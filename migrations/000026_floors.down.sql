-- Takes away what centres have set as their floor for confined water.
DROP VIEW planning_floor;
ALTER TABLE gas_settings DROP confined_floor;

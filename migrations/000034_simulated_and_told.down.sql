-- Simulated readings count as readings again: only where none was recorded.
DROP VIEW planning_told;
CREATE OR REPLACE VIEW training_gas_check WITH (security_invoker) AS
SELECT g.centre_id, g.id, g.participant_id, g.dive_id, e.session_id, e.witnessed_at,
    g.depth_value, g.depth_unit, g.reading_value, g.reading_unit
FROM gas_check g
JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
WHERE e.voided_at IS NULL AND g.reading_value IS NOT NULL;
ALTER TABLE gas_check DROP simulated;

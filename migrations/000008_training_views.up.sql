-- What training lets other features read: the dives that stand, each with its
-- latest end that stands, and the looks at gauges that stand. Voided entries are
-- not in them.

CREATE VIEW training_dive WITH (security_invoker) AS
SELECT b.centre_id, b.id AS start_id, b.dive_id, b.participant_id, e.session_id, e.witnessed_at AS in_at,
    b.size_value, b.size_unit, b.rating_value, b.rating_unit, b.oxygen_percent, b.start_value, b.start_unit,
    z.id AS end_id, z.out_at, z.depth_value, z.depth_unit, z.end_value, z.end_unit
FROM dive_start b
JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
LEFT JOIN LATERAL (
    SELECT x.id, h.witnessed_at AS out_at, x.depth_value, x.depth_unit, x.end_value, x.end_unit
    FROM dive_end x JOIN journal_entry h ON h.centre_id = x.centre_id AND h.id = x.id
    WHERE x.centre_id = b.centre_id AND x.dive_start_id = b.id AND h.voided_at IS NULL
    ORDER BY h.witnessed_at DESC, h.id LIMIT 1) z ON true
WHERE e.voided_at IS NULL;

CREATE VIEW training_gas_check WITH (security_invoker) AS
SELECT g.centre_id, g.id, g.participant_id, g.dive_id, e.session_id, e.witnessed_at,
    g.depth_value, g.depth_unit, g.reading_value, g.reading_unit
FROM gas_check g
JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
WHERE e.voided_at IS NULL AND g.reading_value IS NOT NULL;

GRANT SELECT ON training_dive, training_gas_check TO tankside_app;

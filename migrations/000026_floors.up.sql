-- The centre's floor for confined water, beside the one for open water that stands
-- among its settings for gas: whoever was told no pressure, or a lower one, is held
-- against the floor of the water that they are in.
ALTER TABLE gas_settings
    ADD confined_floor jsonb -- null: the program's own
        CHECK (confined_floor->>'unit' IN ('bar', 'psi') AND (confined_floor->>'value')::numeric > 0);

-- The floors that the centre has set, for those who judge readings; no row, or null
-- for a kind of water, where it has set none.
CREATE VIEW planning_floor WITH (security_invoker) AS
SELECT
    centre_id,
    (settings->'floor'->>'value')::numeric AS open_value,
    settings->'floor'->>'unit' AS open_unit,
    (confined_floor->>'value')::numeric AS confined_value,
    confined_floor->>'unit' AS confined_unit
FROM gas_settings;
GRANT SELECT ON planning_floor TO tankside_app;

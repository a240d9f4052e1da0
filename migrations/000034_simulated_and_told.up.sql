-- Readings of a drill that are made up, and what a briefing told: both for those
-- who hold a diver's gas against the pressures agreed.

-- A simulated low of a drill says nothing of the gas. Checks of before were
-- readings.
ALTER TABLE gas_check ADD simulated boolean NOT NULL DEFAULT false;

-- As before, without the simulated ones: nobody's breathing rate is learned from a
-- figure that was made up.
CREATE OR REPLACE VIEW training_gas_check WITH (security_invoker) AS
SELECT
    g.centre_id, g.id, g.participant_id, g.dive_id, e.session_id, e.witnessed_at,
    g.depth_value, g.depth_unit, g.reading_value, g.reading_unit
FROM gas_check g
JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
WHERE e.voided_at IS NULL AND g.reading_value IS NOT NULL AND NOT g.simulated;

-- The turn and low-gas pressures that each participant was told in the newest
-- standing briefing that names the person, acknowledged or not; dive_id null: for
-- every dive of the session without figures of its own.
CREATE VIEW planning_told WITH (security_invoker) AS
SELECT
    n.centre_id, n.session_id, p.id AS participant_id, n.id AS briefing_id,
    (f->>'dive_id')::uuid AS dive_id,
    (f->'turn'->>'value')::numeric AS turn_value,
    f->'turn'->>'unit' AS turn_unit,
    (f->'low'->>'value')::numeric AS low_value,
    f->'low'->>'unit' AS low_unit
FROM (
    SELECT DISTINCT ON (centre_id, session_id, person_id) *
    FROM planning_briefing
    ORDER BY centre_id, session_id, person_id, given_at DESC, recorded_at DESC, id) n
JOIN sessions_participant p ON p.centre_id = n.centre_id AND p.session_id = n.session_id AND p.person_id = n.person_id
JOIN briefing_person x ON x.centre_id = n.centre_id AND x.briefing_id = n.id AND x.person_id = n.person_id
CROSS JOIN LATERAL jsonb_array_elements(CASE jsonb_typeof(x.figures) WHEN 'array' THEN x.figures ELSE '[]' END) f;
GRANT SELECT ON planning_told TO tankside_app;

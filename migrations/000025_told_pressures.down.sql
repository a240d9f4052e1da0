-- Withdrawn plans count again: which were withdrawn is lost, and so is what was
-- found of told pressures.

CREATE OR REPLACE VIEW planning_pressure WITH (security_invoker) AS
SELECT DISTINCT ON (c.centre_id, c.session_id, x.participant_id, c.dive_id)
    c.centre_id, c.session_id, x.participant_id, c.dive_id, c.plan_id, x.low_value, x.low_unit, x.turn_value, x.turn_unit,
    x.start_value, x.start_unit, c.confirmed_at
FROM gas_plan_confirmed c JOIN gas_plan_person x ON x.centre_id = c.centre_id AND x.plan_id = c.plan_id
ORDER BY c.centre_id, c.session_id, x.participant_id, c.dive_id, c.turn DESC;

DROP TABLE gas_plan_withdrawn;
ALTER TABLE gas_settings DROP smallest_cylinder;
ALTER TABLE briefing_person DROP told;
ALTER TABLE briefing DROP dive, DROP dive_id, DROP in_charge;

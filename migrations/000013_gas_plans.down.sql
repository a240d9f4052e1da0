-- Takes away gas plans and what was decided on them, which cannot be made again:
-- only for a database that holds nothing worth keeping.
DROP VIEW planning_pressure;
DROP TABLE gas_plan_confirmed, gas_plan_person, gas_plan, gas_settings;

-- Takes away conventions, briefings with who acknowledged them, and gas plans with what was
-- decided on them, which cannot be made again: only for a database that holds nothing worth
-- keeping.
DROP VIEW plans_pressure;
DROP TABLE gas_plan_withdrawn, gas_plan_confirmed, gas_plan_person, gas_plan, gas_settings;
DROP TABLE acknowledgement, briefing_person, briefing, convention;

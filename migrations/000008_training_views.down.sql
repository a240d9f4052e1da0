DROP VIEW training_gas_check;
DROP VIEW training_dive;

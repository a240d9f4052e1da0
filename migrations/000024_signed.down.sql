DROP VIEW training_signed;

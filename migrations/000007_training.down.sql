-- Takes away what was trained and signed, which cannot be made again: only for a database
-- that holds nothing worth keeping.
DROP VIEW assessment_signed, waterlog_gas_check, waterlog_dive;
DROP TABLE completion_void, completion, sign_off_void, sign_off, credit_void, credit,
    theory_result, drill_attempt, log_completion, gas_response, gas_check, time_out, time_in;

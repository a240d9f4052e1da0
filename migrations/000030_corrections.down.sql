DROP VIEW people_correction;
DROP TABLE person_correction, ledger_salt;

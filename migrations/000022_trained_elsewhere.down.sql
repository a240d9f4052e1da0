COMMENT ON COLUMN briefing_person.knows IS NULL;
DROP INDEX briefing_person_trained;

-- Takes away everything that was witnessed, which cannot be made again: only for a database
-- that holds nothing worth keeping.
DROP VIEW sessions_arrival;
DROP TABLE incident_person, incident, head_count_name, head_count, conditions_report, roll_call;
DROP VIEW journal_entry;
DROP TABLE entry_clock, entry_void, entry;

ALTER TABLE syllabus_version DROP COLUMN id;

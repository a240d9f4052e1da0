-- Whoever adds a version may choose its id, as with anything that is created: so
-- a request sent again is told from the wish to teach an earlier content again.

ALTER TABLE syllabus_version ADD COLUMN id uuid NOT NULL DEFAULT gen_random_uuid();
CREATE UNIQUE INDEX syllabus_version_id ON syllabus_version (centre_id, id);

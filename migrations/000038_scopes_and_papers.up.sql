-- Where nobody else of a centre may record the papers of its only instructor, the
-- operator of the service does, with a command, and names who saw them: nobody of
-- the staff then stands for having seen or recorded it.
--
-- Papers, sites and conventions have scopes of their own. A person's token gets
-- those that go with what it had: what its holder may do, the roles still say. A
-- program's token gets none of them: a manager issues it one with what it needs.

ALTER TABLE paper
    ALTER COLUMN seen_by DROP NOT NULL,
    ALTER COLUMN recorded_by DROP NOT NULL,
    ADD COLUMN seen_by_name text,
    ADD CONSTRAINT paper_seen_by_somebody CHECK (
        (seen_by IS NULL) = (seen_by_name IS NOT NULL) AND (seen_by IS NULL) = (recorded_by IS NULL));

-- A ticket opens its address so many times and no more: a sheet once, a stream a few
-- times, since a browser comes back to it by itself.
ALTER TABLE ticket ADD COLUMN opens_left integer NOT NULL DEFAULT 1 CHECK (opens_left >= 0);
GRANT UPDATE (opens_left) ON ticket TO tankside_app;

UPDATE token
SET scopes = scopes
    || CASE WHEN scopes && '{people:read,sessions:read}' THEN '{papers:read}'::text[] ELSE '{}' END
    || CASE WHEN 'people:write' = ANY (scopes) THEN '{papers:write}'::text[] ELSE '{}' END
    || CASE WHEN 'courses:write' = ANY (scopes) THEN '{sites:write,conventions:write}'::text[] ELSE '{}' END
WHERE person_id IS NOT NULL;

-- A paper that the operator recorded is afterwards in the name of the person whose
-- it is, who alone is there.
REVOKE UPDATE (opens_left) ON ticket FROM tankside_app;
ALTER TABLE ticket DROP COLUMN opens_left;

UPDATE token
SET scopes = array_remove(array_remove(array_remove(array_remove(scopes, 'papers:read'), 'papers:write'), 'sites:write'), 'conventions:write');

ALTER TABLE paper DROP CONSTRAINT paper_seen_by_somebody;
UPDATE paper
SET seen_by = person_id, recorded_by = person_id
WHERE seen_by IS NULL;
ALTER TABLE paper
    DROP COLUMN seen_by_name,
    ALTER COLUMN seen_by SET NOT NULL,
    ALTER COLUMN recorded_by SET NOT NULL;

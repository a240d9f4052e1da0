-- A syllabus without training dives, skills, parts of theory or papers of a signer
-- was stored with null for the list, which SQL does not read as a list: no session
-- of such a course could be planned with gas. What is taught stays as it is; an
-- empty list is written where null meant one. In the text of a jsonb a quotation
-- mark within a string is escaped, so that only members are found.
UPDATE syllabus_version
SET content = replace(replace(replace(replace(replace(content::text,
    '"dives": null', '"dives": []'),
    '"skills": null', '"skills": []'),
    '"theory": null', '"theory": []'),
    '"signer_papers": null', '"signer_papers": []'),
    '"measures": null', '"measures": []')::jsonb
WHERE content::text ~ '"(dives|skills|theory|signer_papers|measures)": null';

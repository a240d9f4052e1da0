-- The orders in which lists are read, and what they are narrowed by.

CREATE INDEX token_by_issue ON token (centre_id, issued_at, id);
CREATE INDEX token_of_person ON token (centre_id, person_id);
CREATE INDEX enrolment_by_creation ON enrolment (centre_id, created_at, id);
CREATE INDEX enrolment_of_course ON enrolment (centre_id, course_id, created_at, id);

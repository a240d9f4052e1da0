DROP INDEX enrolment_of_course;
DROP INDEX enrolment_by_creation;
DROP INDEX token_of_person;
DROP INDEX token_by_issue;

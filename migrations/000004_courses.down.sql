-- Takes away sites, syllabuses, courses and enrolments with all that is in them.
DROP VIEW courses_enrolment, courses_lock, courses_course, courses_syllabus, courses_site;
DROP TABLE enrolment, course, syllabus_version, syllabus, site;

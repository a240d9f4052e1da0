-- A row in every table that the migration makes, and one that every view
-- shows: a paper that stands beside one that is voided, and so on. Invented.
-- Each centre gets the same ids, which only keys that lead with centre_id allow.
INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, crew_papers, student_papers, medical_months, created_at, updated_at)
VALUES (app_centre(), 'Kelp Point', 'Europe/Lisbon', 'bar', 18, '{general-open}', '{teaching_status}', '{waiver}', 12, '2026-06-01Z', '2026-06-01Z');

INSERT INTO rule_book (centre_id, version, content, set_at)
VALUES (app_centre(), '2', '{"ID": "own", "Version": "2"}', '2026-06-01Z');

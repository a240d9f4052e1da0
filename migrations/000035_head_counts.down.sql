-- Loses after which dive heads were counted, whom counts named, and who was said
-- not to be aboard.

ALTER TABLE roll_call DROP aboard;
DROP TABLE head_count_name;
ALTER TABLE head_count DROP dive_number;

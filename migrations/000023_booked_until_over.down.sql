-- Whoever was placed elsewhere after a session that ended early is no longer booked
-- by that one: for its planned time they cannot be.

UPDATE participant p SET booked = false FROM session s WHERE s.centre_id = p.centre_id AND s.id = p.session_id AND p.booked AND s.ended_at < s.ends_at
    AND EXISTS (SELECT FROM participant o JOIN session t ON t.centre_id = o.centre_id AND t.id = o.session_id
        WHERE o.centre_id = p.centre_id AND o.person_id = p.person_id AND o.booked AND o.id <> p.id AND t.starts_at < s.ends_at AND t.ends_at > s.starts_at);
UPDATE session SET during = tstzrange(starts_at, ends_at) WHERE ended_at < ends_at;
SET CONSTRAINTS ALL IMMEDIATE;
ALTER TABLE session DROP CONSTRAINT session_during_is_its_span, ADD CONSTRAINT session_during_is_its_span CHECK (during = tstzrange(starts_at, ends_at));

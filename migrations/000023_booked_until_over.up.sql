-- A session that ends before its planned end books its people no longer than it
-- was held: whoever is free afterwards may be placed elsewhere. What it was planned
-- for stays in starts_at and ends_at. The release before this one writes the
-- planned span on; that stays allowed.

ALTER TABLE session DROP CONSTRAINT session_during_is_its_span, ADD CONSTRAINT session_during_is_its_span
    CHECK (during IN (tstzrange(starts_at, ends_at), tstzrange(starts_at, GREATEST(starts_at, LEAST(ends_at, ended_at)))));
UPDATE session SET during = tstzrange(starts_at, GREATEST(starts_at, ended_at)) WHERE ended_at < ends_at;

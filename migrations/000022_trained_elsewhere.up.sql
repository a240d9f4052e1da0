-- Whoever gives a briefing is told who was trained in other signals, once
-- somebody said so in an earlier one: the newest word about each person counts.
CREATE INDEX briefing_person_trained ON briefing_person (centre_id, person_id) WHERE knows IS NOT NULL;
COMMENT ON COLUMN briefing_person.knows IS 'the convention that the person was trained in, as far as anybody said: the agreed one too';

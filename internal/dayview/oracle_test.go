package dayview_test

// briefings has, by SQL over whole tables, what View.Newest and View.BriefedAt find in Go:
// every standing briefing with everybody whom it names (standing_briefing), since when
// each participant has been briefed (briefed_since), and which pressures the newest
// briefing told (told_pressure).
const briefings = `
WITH standing_briefing AS (
	SELECT
		b.centre_id, b.session_id, b.id, x.person_id, e.witnessed_at AS given_at, e.recorded_at, x.digest,
		b.check_every_s
	FROM briefing b
	JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id AND e.voided_at IS NULL
	JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id
), briefed_since AS (
	SELECT
		n.centre_id, n.session_id, p.id AS participant_id, n.person_id, n.id AS briefing_id,
		h.at AS briefed_at, n.check_every_s
	FROM (
		SELECT DISTINCT ON (centre_id, session_id, person_id) *
		FROM standing_briefing
		ORDER BY centre_id, session_id, person_id, given_at DESC, recorded_at DESC, id) n
	JOIN sessions_participant p
		ON p.centre_id = n.centre_id AND p.session_id = n.session_id AND p.person_id = n.person_id
	CROSS JOIN LATERAL (
		SELECT min(e.witnessed_at) AS at
		FROM standing_briefing o
		JOIN acknowledgement a
			ON a.centre_id = o.centre_id AND a.briefing_id = o.id AND a.person_id = o.person_id
		JOIN journal_entry e ON e.centre_id = a.centre_id AND e.id = a.id AND e.voided_at IS NULL
		WHERE o.centre_id = n.centre_id
			AND o.session_id = n.session_id
			AND o.person_id = n.person_id
			AND o.digest = n.digest
			AND NOT EXISTS (
				SELECT
				FROM standing_briefing c
				WHERE c.centre_id = n.centre_id
					AND c.session_id = n.session_id
					AND c.person_id = n.person_id
					AND c.digest <> n.digest
					AND c.given_at > o.given_at)) h
	WHERE h.at IS NOT NULL
), told_pressure AS (
	SELECT
		n.centre_id, n.session_id, p.id AS participant_id, n.id AS briefing_id,
		(f->>'dive_id')::uuid AS dive_id,
		(f->'turn'->>'value')::numeric AS turn_value,
		f->'turn'->>'unit' AS turn_unit,
		(f->'low'->>'value')::numeric AS low_value,
		f->'low'->>'unit' AS low_unit
	FROM (
		SELECT DISTINCT ON (centre_id, session_id, person_id) *
		FROM standing_briefing
		ORDER BY centre_id, session_id, person_id, given_at DESC, recorded_at DESC, id) n
	JOIN sessions_participant p
		ON p.centre_id = n.centre_id AND p.session_id = n.session_id AND p.person_id = n.person_id
	JOIN briefing_person x
		ON x.centre_id = n.centre_id AND x.briefing_id = n.id AND x.person_id = n.person_id
	CROSS JOIN LATERAL jsonb_array_elements(
		CASE jsonb_typeof(x.figures) WHEN 'array' THEN x.figures ELSE '[]' END) f
)
`

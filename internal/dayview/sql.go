package dayview

// Rows are reached by a range of one key and in its order:
//
//	t.id BETWEEN x.id AND x.id ORDER BY t.id
//
// While a table is small or was never analysed, the planner takes every index of it
// for equally dear, since all of them begin with the centre, and often settles on
// one that matches nothing but the centre. Only an index on the key delivers the
// order without a sort, so that with the order asked for it is always the cheapest;
// an equality would make the order void. A subquery with an ORDER BY is planned by
// itself, so that no join begins elsewhere either.

// SessionColumns are those of a Session; the table is to be called s.
const SessionColumns = `s.id, s.course_id, s.kind, s.title, s.site_id, s.outing_id, s.starts_local, s.ends_local, s.time_zone,
	s.starts_at, s.ends_at, s.on_day, s.state, s.state_reason, s.opened_at, s.ended_at, s.log_complete,
		s.places_lowered,
	s.visibility, s.current, s.temperature,
	COALESCE((
		SELECT jsonb_agg(jsonb_build_object('id', d.id, 'number', d.number, 'training_dive', d.training_dive)
			ORDER BY d.number)
		FROM (
			SELECT * FROM dive d
			WHERE d.centre_id = s.centre_id AND d.session_id BETWEEN s.id AND s.id
			ORDER BY d.session_id) d), '[]') AS dives,
	s.version, s.created_at, s.updated_at`

// GroupColumns are those of a Group; the table is to be called g.
const GroupColumns = `g.id, g.session_id, g.name, g.places_lowered, g.students, g.places, g.cleared, g.version, g.created_at,
	g.updated_at, g.findings, (
		SELECT s.state = 'under_way' AND s.kind <> 'theory'
		FROM session s
		WHERE s.centre_id = g.centre_id AND s.id BETWEEN g.session_id AND g.session_id
		ORDER BY s.id) AS in_water`

// ParticipantColumns are those of a Participant; the table is to be called p.
const ParticipantColumns = `p.id, p.session_id, p.group_id, p.person_id, p.enrolment_id, p.role, p.gauge_unit, p.attendance,
	p.attendance_at, p.counted, p.booked, p.placed, p.not_diving, p.not_diving_by, p.not_diving_at, p.version,
		p.created_at,
	p.updated_at, (
		SELECT n.name
		FROM person n
		WHERE n.centre_id = p.centre_id AND n.id BETWEEN p.person_id AND p.person_id
		ORDER BY n.id) AS person_name`

// sessionRow is a session with its course and site, as read.
type sessionRow struct {
	Session
	Course
	Site
}

// chosen are the ids of the sessions that a query names, x (id). An ARRAY of a
// subquery is worked out once, before the statement begins.
const chosen = `
	FROM unnest(COALESCE(@ids::uuid[], '{}')
		|| ARRAY(
			SELECT d.session_id
			FROM dive d
			WHERE d.centre_id = app_centre() AND d.id BETWEEN @dive::uuid AND @dive
			ORDER BY d.id)
		|| ARRAY(
			SELECT g.session_id
			FROM gas_plan g
			WHERE g.centre_id = app_centre() AND g.id BETWEEN @plan::uuid AND @plan
			ORDER BY g.id)
		|| ARRAY(
			SELECT o.session_id
			FROM (
				SELECT * FROM participant o
				WHERE o.centre_id = app_centre() AND o.person_id BETWEEN @person::uuid AND @person
				ORDER BY o.person_id) o
			WHERE (
				SELECT i.on_day
				FROM session i
				WHERE i.centre_id = o.centre_id AND i.id BETWEEN o.session_id AND o.session_id
				ORDER BY i.id) = @on::date)) x (id)`

// each is the session itself, for what is judged on its day.
const each = chosen + `
	CROSS JOIN LATERAL (
		SELECT * FROM session s
		WHERE s.centre_id = app_centre() AND s.id BETWEEN x.id AND x.id
		ORDER BY s.id) s`

const (
	sessionsSQL = `SELECT ` + SessionColumns +
		`, c.title AS course_title, c.level, c.syllabus_id, c.syllabus_number,
		t.water AS site_water, t.max_depth, t.altitude, t.emergency` + each + `
	CROSS JOIN LATERAL (
		SELECT c.title, c.syllabus_id, c.syllabus_number, (
			SELECT v.level
			FROM syllabus_version v
			WHERE v.centre_id = c.centre_id AND v.syllabus_id BETWEEN c.syllabus_id AND c.syllabus_id
				AND v.number BETWEEN c.syllabus_number AND c.syllabus_number
			ORDER BY v.syllabus_id, v.number) AS level
		FROM course c
		WHERE c.centre_id = s.centre_id AND c.id BETWEEN s.course_id AND s.course_id
		ORDER BY c.id) c
	LEFT JOIN LATERAL (
		SELECT * FROM site t
		WHERE t.centre_id = s.centre_id AND t.id BETWEEN s.site_id AND s.site_id
		ORDER BY t.id) t ON true
	ORDER BY s.starts_at, s.id`

	groupsSQL = `SELECT g.*` + chosen + `
	CROSS JOIN LATERAL (
		SELECT ` + GroupColumns + `
		FROM session_group g
		WHERE g.centre_id = app_centre() AND g.session_id BETWEEN x.id AND x.id
		ORDER BY g.session_id) g
	ORDER BY g.session_id, g.created_at, g.id`

	participantsSQL = `SELECT p.*` + chosen + `
	CROSS JOIN LATERAL (
		SELECT ` + ParticipantColumns + `
		FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id BETWEEN x.id AND x.id
		ORDER BY p.session_id) p
	ORDER BY p.session_id, p.role <> 'in_charge', p.role = 'student', p.person_name, p.id`

	centreSQL = `
	SELECT c.time_zone, c.gauge_unit, c.age_of_majority, c.rule_books, c.own_book,
		c.crew_papers, c.student_papers, c.medical_months, g.settings AS gas_settings,
		jsonb_populate_record(NULL::reading, nullif(g.settings->'floor', 'null')) AS floor,
		jsonb_populate_record(NULL::reading, nullif(g.confined_floor, 'null')) AS confined_floor
	FROM centre c
	LEFT JOIN gas_settings g ON g.centre_id = c.centre_id
	WHERE c.centre_id = app_centre()`

	// personColumns are those of a personRow; q has the person_id and the day, on_day.
	personColumns = `n.id, n.name, n.birth_on, n.gauge_unit,
		ARRAY(SELECT r.role FROM person_role r WHERE r.centre_id = n.centre_id AND r.person_id = n.id
			ORDER BY r.role) AS roles,
		` + unfit + ` AS unfit,
		` + papers + ` AS papers`

	eachPerson = `
	CROSS JOIN LATERAL (
		SELECT * FROM person n
		WHERE n.centre_id = app_centre() AND n.id BETWEEN q.person_id AND q.person_id
		ORDER BY n.id) n`

	personsSQL = `SELECT NULL::uuid AS session_id, ` + personColumns + `
	FROM (SELECT DISTINCT x.id AS person_id, @day::date AS on_day FROM unnest(@ids::uuid[]) x (id)) q` + eachPerson + `
	ORDER BY n.id`

	peopleSQL = `SELECT q.session_id, ` + personColumns + `
	FROM (
		SELECT DISTINCT s.id AS session_id, s.on_day, w.person_id` + each + `
		CROSS JOIN LATERAL (
			(SELECT p.person_id
			FROM participant p
			WHERE p.centre_id = s.centre_id AND p.session_id BETWEEN s.id AND s.id
			ORDER BY p.session_id)
			UNION SELECT unnest(@also::uuid[])) w) q` + eachPerson + `
	ORDER BY n.id`

	taughtSQL = `SELECT DISTINCT p.session_id, p.enrolment_id, c.id AS course_id, c.syllabus_id, c.syllabus_number` + chosen + `
	CROSS JOIN LATERAL (
		SELECT p.session_id, p.enrolment_id
		FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id BETWEEN x.id AND x.id
		ORDER BY p.session_id) p
	CROSS JOIN LATERAL (
		SELECT e.course_id
		FROM enrolment e
		WHERE e.centre_id = app_centre() AND e.id BETWEEN p.enrolment_id AND p.enrolment_id
		ORDER BY e.id) e
	CROSS JOIN LATERAL (
		SELECT c.id, c.syllabus_id, c.syllabus_number
		FROM course c
		WHERE c.centre_id = app_centre() AND c.id BETWEEN e.course_id AND e.course_id
		ORDER BY c.id) c`

	// unfit is whether a mark of the person n on the day q.on_day stands.
	unfit = `EXISTS (
			SELECT FROM (
				SELECT * FROM unfit_mark m
				WHERE m.centre_id = n.centre_id AND m.person_id BETWEEN n.id AND n.id
				ORDER BY m.person_id OFFSET 0) m
			WHERE m.on_day = q.on_day
				AND (SELECT true FROM unfit_lift l WHERE l.centre_id = m.centre_id AND l.mark_id = m.id) IS NULL)`

	// papers are those of the person n that were not voided, as JSON.
	papers = `COALESCE((
			SELECT jsonb_agg(jsonb_build_object('id', a.id, 'kind', a.kind, 'outcome', a.outcome, 'issued_on',
				a.issued_on,
				'valid_until', a.valid_until) ORDER BY a.issued_on, a.id)
			FROM (
				SELECT * FROM paper a
				WHERE a.centre_id = n.centre_id AND a.person_id BETWEEN n.id AND n.id
				ORDER BY a.person_id) a
			WHERE (SELECT true FROM paper_void v WHERE v.centre_id = a.centre_id AND v.paper_id = a.id) IS NULL), '[]')`
)

// Of the entries that belong to a session.
const (
	// entries are those of a kind that is to follow; columns are to follow it.
	entries = chosen + `
	CROSS JOIN LATERAL (
		SELECT e.centre_id, e.session_id, e.id, e.kind, e.witnessed_at, ` + voided + ` AS voided
		FROM entry e
		WHERE e.centre_id = app_centre() AND e.session_id BETWEEN x.id AND x.id
		ORDER BY e.session_id) e`

	// voided is whether the entry e was.
	voided = `COALESCE((SELECT true FROM entry_void u WHERE u.centre_id = e.centre_id AND u.entry_id = e.id), false)`

	// Roll calls are reached through the participants: a session has many more entries.
	callsSQL = `SELECT p.session_id, r.id, r.participant_id, r.attendance, e.witnessed_at AS at, e.voided, r.role, r.group_id,
		r.enrolment_id` + chosen + `
	CROSS JOIN LATERAL (
		SELECT p.id, p.centre_id, p.session_id
		FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id BETWEEN x.id AND x.id
		ORDER BY p.session_id) p
	CROSS JOIN LATERAL (
		SELECT *
		FROM roll_call r
		WHERE r.centre_id = p.centre_id AND r.participant_id BETWEEN p.id AND p.id
		ORDER BY r.participant_id) r
	CROSS JOIN LATERAL (
		SELECT e.id, e.witnessed_at, ` + voided + ` AS voided
		FROM entry e
		WHERE e.centre_id = r.centre_id AND e.id BETWEEN r.id AND r.id
		ORDER BY e.id) e
	ORDER BY e.witnessed_at, e.id`

	reportsSQL = `SELECT e.session_id, r.visibility, r.current, r.temperature,
		e.witnessed_at AS at` + entries + `
	CROSS JOIN LATERAL (
		SELECT * FROM conditions_report r
		WHERE r.centre_id = e.centre_id AND r.id BETWEEN e.id AND e.id
		ORDER BY r.id) r
	WHERE e.kind = 'conditions' AND NOT e.voided
	ORDER BY e.witnessed_at, e.id`

	logSQL = `SELECT e.session_id, t.id, t.participant_id, t.dive_id, t.team, e.witnessed_at AS in_at, (
			SELECT max(h.witnessed_at)
			FROM (
				SELECT * FROM time_out z
				WHERE z.centre_id = t.centre_id AND z.time_in_id BETWEEN t.id AND t.id
				ORDER BY z.time_in_id) z
			CROSS JOIN LATERAL (
				SELECT e.witnessed_at, ` + voided + ` AS voided
				FROM entry e
				WHERE e.centre_id = z.centre_id AND e.id BETWEEN z.id AND z.id
				ORDER BY e.id) h
			WHERE NOT h.voided) AS out_at` + entries + `
	CROSS JOIN LATERAL (
		SELECT * FROM time_in t
		WHERE t.centre_id = e.centre_id AND t.id BETWEEN e.id AND e.id
		ORDER BY t.id) t
	WHERE e.kind = 'time_in' AND NOT e.voided
	ORDER BY e.witnessed_at, e.id`

	briefingsSQL = `SELECT b.session_id, b.id AS briefing_id, y.person_id, e.witnessed_at AS given_at, e.recorded_at, b.dive_id, b.in_charge,
		b.check_every_s, y.gauge_unit, y.figures, y.told, y.digest, (
			SELECT min(h.witnessed_at)
			FROM (
				SELECT * FROM acknowledgement a
				WHERE a.centre_id = y.centre_id AND a.briefing_id BETWEEN y.briefing_id AND y.briefing_id
				ORDER BY a.briefing_id) a
			CROSS JOIN LATERAL (
				SELECT e.witnessed_at, ` + voided + ` AS voided
				FROM entry e
				WHERE e.centre_id = a.centre_id AND e.id BETWEEN a.id AND a.id
				ORDER BY e.id) h
			WHERE a.person_id = y.person_id AND NOT h.voided) AS heard_at` + chosen + `
	CROSS JOIN LATERAL (
		SELECT * FROM briefing b
		WHERE b.centre_id = app_centre() AND b.session_id BETWEEN x.id AND x.id
		ORDER BY b.session_id) b
	CROSS JOIN LATERAL (
		SELECT e.witnessed_at, e.recorded_at, ` + voided + ` AS voided
		FROM entry e
		WHERE e.centre_id = b.centre_id AND e.id BETWEEN b.id AND b.id
		ORDER BY e.id) e
	CROSS JOIN LATERAL (
		SELECT * FROM briefing_person y
		WHERE y.centre_id = b.centre_id AND y.briefing_id BETWEEN b.id AND b.id
		ORDER BY y.briefing_id) y
	WHERE NOT e.voided
	ORDER BY e.witnessed_at DESC, e.recorded_at DESC, b.id`
)

// Of the gas plans of a session.
const (
	confirmed = chosen + `
	CROSS JOIN LATERAL (
		SELECT c.*, (
			SELECT w.withdrawn_at FROM gas_plan_withdrawn w WHERE w.centre_id = c.centre_id
				AND w.plan_id = c.plan_id) AS withdrawn_at
		FROM gas_plan_confirmed c
		WHERE c.centre_id = app_centre() AND c.session_id BETWEEN x.id AND x.id
		ORDER BY c.session_id) c`

	plansSQL = `SELECT c.session_id, y.participant_id, c.plan_id, c.dive_id, c.group_id, c.turn, c.confirmed_at, c.withdrawn_at,
		y.start AS start_pressure, y.turn AS turn_pressure, y.low AS low_pressure` + confirmed + `
	CROSS JOIN LATERAL (
		SELECT * FROM gas_plan_person y
		WHERE y.centre_id = c.centre_id AND y.plan_id BETWEEN c.plan_id AND c.plan_id
		ORDER BY y.plan_id) y
	ORDER BY c.session_id, c.turn, y.participant_id`

	sharingSQL = `SELECT c.session_id, c.plan_id, (one.person->>'participant_id')::uuid AS participant_id,
		(other.person->>'participant_id')::uuid AS partner_id` + confirmed + `
	CROSS JOIN LATERAL (
		SELECT g.result->'people' AS people
		FROM gas_plan g
		WHERE g.centre_id = c.centre_id AND g.id BETWEEN c.plan_id AND c.plan_id
		ORDER BY g.id) g
	CROSS JOIN LATERAL jsonb_array_elements(g.people) AS one (person)
	CROSS JOIN LATERAL jsonb_array_elements(g.people) AS other (person)
	WHERE c.withdrawn_at IS NULL AND other.person->>'key' = one.person->>'shares_with'
		AND one.person->>'participant_id' IS NOT NULL AND other.person->>'participant_id' IS NOT NULL
	ORDER BY c.turn`

	openPlansSQL = `SELECT p.*` + chosen + `
	CROSS JOIN LATERAL (
		SELECT DISTINCT ON (p.dive_id, p.group_id) p.id, p.session_id, p.planned_at, p.dive_id, p.group_id, p.findings
		FROM (
			SELECT * FROM gas_plan p
			WHERE p.centre_id = app_centre() AND p.session_id BETWEEN x.id AND x.id
			ORDER BY p.session_id) p
		WHERE (p.group_id IS NULL OR (
				SELECT true
				FROM session_group g
				WHERE g.centre_id = p.centre_id AND g.id BETWEEN p.group_id AND p.group_id
				ORDER BY g.id) IS NOT NULL)
			AND (SELECT true FROM gas_plan_withdrawn w WHERE w.centre_id = p.centre_id AND w.plan_id = p.id) IS NULL
			AND (
				SELECT true
				FROM (
					SELECT * FROM gas_plan_confirmed c
					WHERE c.centre_id = p.centre_id AND c.session_id BETWEEN p.session_id AND p.session_id
					ORDER BY c.session_id) c
				CROSS JOIN LATERAL (
					SELECT q.planned_at, q.id
					FROM gas_plan q
					WHERE q.centre_id = c.centre_id AND q.id BETWEEN c.plan_id AND c.plan_id
					ORDER BY q.id) q
				WHERE c.dive_id IS NOT DISTINCT FROM p.dive_id AND c.group_id IS NOT DISTINCT FROM p.group_id
					AND (q.planned_at, q.id) >= (p.planned_at, p.id)
				LIMIT 1) IS NULL
		ORDER BY p.dive_id, p.group_id, p.planned_at DESC, p.id DESC) p
	ORDER BY p.session_id, p.dive_id, p.group_id`
)

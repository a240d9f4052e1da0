package dayview

import (
	"time"

	"github.com/google/uuid"

	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// What a participant can have been judged for by a birth date that was corrected since.
const (
	AgedPlan     = "gas_plan" // confirmed
	AgedBriefing = "briefing" // that named the depth of its dive
)

// Aged is a dive that a participant was judged for, by a confirmed plan or a standing
// briefing, before their birth date was corrected. Only sessions that are planned or
// under way have any: what is over keeps what it was judged by.
type Aged struct {
	SessionID     uuid.UUID
	Kind          string // AgedPlan or AgedBriefing
	ID            uuid.UUID
	ParticipantID uuid.UUID
	CorrectedAt   time.Time  // the last time
	DiveID        *uuid.UUID // nil: every dive of the session
	Depth         units.Reading
	Syllabus      syllabus.Syllabus // that the participant is taught by; of crew, that of the session
}

// agedSQL begins with the corrections of the participants. They are rare, so that it
// seldom reads more.
const agedSQL = `SELECT p.session_id, a.kind, a.id, p.id AS participant_id, k.corrected_at, a.dive_id,
		jsonb_populate_record(NULL::reading, a.depth) AS depth, v.content AS syllabus` + each + `
	CROSS JOIN LATERAL (
		SELECT * FROM participant p
		WHERE p.centre_id = s.centre_id AND p.session_id BETWEEN s.id AND s.id
		ORDER BY p.session_id) p
	CROSS JOIN LATERAL (
		SELECT max(k.corrected_at) AS corrected_at
		FROM (
			SELECT * FROM person_correction k
			WHERE k.centre_id = p.centre_id AND k.person_id BETWEEN p.person_id AND p.person_id
			ORDER BY k.person_id) k
		WHERE k.member = 'birth_on'
		HAVING max(k.corrected_at) IS NOT NULL) k
	CROSS JOIN LATERAL (` + agedPlansSQL + `
		UNION ALL` + agedBriefingsSQL + `) a
	CROSS JOIN LATERAL (
		SELECT COALESCE((
			SELECT e.course_id
			FROM enrolment e
			WHERE e.centre_id = p.centre_id AND e.id BETWEEN p.enrolment_id AND p.enrolment_id
			ORDER BY e.id), s.course_id) AS course_id OFFSET 0) o
	CROSS JOIN LATERAL (
		SELECT * FROM course c
		WHERE c.centre_id = p.centre_id AND c.id BETWEEN o.course_id AND o.course_id
		ORDER BY c.id) c
	CROSS JOIN LATERAL (
		SELECT v.content
		FROM syllabus_version v
		WHERE v.centre_id = c.centre_id AND v.syllabus_id BETWEEN c.syllabus_id AND c.syllabus_id
			AND v.number BETWEEN c.syllabus_number AND c.syllabus_number
		ORDER BY v.syllabus_id, v.number) v
	WHERE s.state IN ('planned', 'under_way')
	ORDER BY p.session_id, a.kind, a.id, p.id`

// agedPlansSQL reads the plans of the participant p that were confirmed before k.
const agedPlansSQL = `
		(SELECT 'gas_plan' AS kind, c.plan_id AS id, c.dive_id, g.input->'dive'->'depth' AS depth
		FROM (
			SELECT * FROM gas_plan_confirmed c
			WHERE c.centre_id = p.centre_id AND c.session_id BETWEEN p.session_id AND p.session_id
			ORDER BY c.session_id) c
		CROSS JOIN LATERAL (
			SELECT g.input
			FROM gas_plan g
			WHERE g.centre_id = c.centre_id AND g.id BETWEEN c.plan_id AND c.plan_id
			ORDER BY g.id) g
		WHERE c.confirmed_at < k.corrected_at AND (
			SELECT true
			FROM gas_plan_person y
			WHERE y.centre_id = c.centre_id AND y.plan_id = c.plan_id AND y.participant_id = p.id) IS NOT NULL)`

// agedBriefingsSQL reads the briefings of the participant p that were recorded before k
// and told pressures for a depth that they named.
const agedBriefingsSQL = `
		(SELECT 'briefing', b.id, b.dive_id, b.dive->'depth'
		FROM (
			SELECT * FROM briefing b
			WHERE b.centre_id = p.centre_id AND b.session_id BETWEEN p.session_id AND p.session_id
			ORDER BY b.session_id) b
		CROSS JOIN LATERAL (
			SELECT e.recorded_at, ` + voided + ` AS voided
			FROM entry e
			WHERE e.centre_id = b.centre_id AND e.id BETWEEN b.id AND b.id
			ORDER BY e.id) e
		WHERE b.dive->'named' ? 'depth' AND e.recorded_at < k.corrected_at AND NOT e.voided AND (
			SELECT true
			FROM briefing_person y
			WHERE y.centre_id = b.centre_id AND y.briefing_id = b.id AND y.person_id = p.person_id) IS NOT NULL)`

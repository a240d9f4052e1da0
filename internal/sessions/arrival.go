package sessions

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Somebody whom no plan expected is where the roll calls say that bring them.
// Each roll call keeps what it says; the earliest one that stands (ties by id)
// gives role, group and enrolment, whichever arrived first, until a decision
// places the person. While they disagree, whatever one of them says is enough
// for a fact about the person, or witnessed by the person, to be taken: so it
// does not matter which of them was known by then.

// ParticipantID returns the id of the participant that an unexpected person becomes: a
// device that has no coverage can name the part before the service knows it.
func ParticipantID(session, person uuid.UUID) uuid.UUID { return uuid.NewSHA1(session, person[:]) }

// attendSQL makes a participant's attendance what the latest roll call that stands
// says, in the order of what was witnessed, and the place of one whom no
// decision placed what the earliest one says. Where none stands, who was planned
// is expected, and who came unexpected was not there. Rows are reached as in package
// dayview.
const attendSQL = `UPDATE participant p SET version = p.version + 1, updated_at = @now,
		attendance = COALESCE(x.latest, CASE WHEN p.placed THEN 'expected' ELSE 'absent' END),
			attendance_at = x.latest_at,
		not_diving = p.not_diving AND x.role IS DISTINCT FROM 'student',
		not_diving_by = CASE WHEN x.role IS DISTINCT FROM 'student' THEN p.not_diving_by END,
		not_diving_at = CASE WHEN x.role IS DISTINCT FROM 'student' THEN p.not_diving_at END,
		role = CASE WHEN x.role IS NULL THEN p.role ELSE x.role END,
		group_id = CASE WHEN x.role IS NULL THEN p.group_id ELSE x.group_id END,
		enrolment_id = CASE WHEN x.role IS NULL THEN p.enrolment_id ELSE x.enrolment_id END
	FROM (
		SELECT o.id, l.attendance AS latest, l.witnessed_at AS latest_at, f.role, f.group_id, f.enrolment_id
		FROM (
			SELECT id, placed FROM participant
			WHERE centre_id = app_centre() AND id BETWEEN @id AND @id
			ORDER BY id) o
		LEFT JOIN LATERAL (
			SELECT c.attendance, c.witnessed_at
			FROM (` + callsOfParticipant + `) c
			WHERE NOT c.voided
			ORDER BY c.witnessed_at DESC, c.id DESC
			LIMIT 1) l ON true
		LEFT JOIN LATERAL (
			SELECT c.role, c.group_id, c.enrolment_id
			FROM (` + callsOfParticipant + `) c
			WHERE c.role IS NOT NULL AND NOT o.placed
			ORDER BY c.voided, c.witnessed_at, c.id
			LIMIT 1) f ON true) x
	WHERE p.centre_id = app_centre() AND p.id = @id AND p.id = x.id`

// callsOfParticipant are the roll calls of participant o, voided ones included.
const callsOfParticipant = `
	SELECT r.id, r.attendance, r.role, r.group_id, r.enrolment_id, e.witnessed_at, e.voided_at IS NOT NULL AS voided
	FROM (
		SELECT * FROM roll_call r
		WHERE r.centre_id = app_centre() AND r.participant_id BETWEEN o.id AND o.id
		ORDER BY r.participant_id) r
	CROSS JOIN LATERAL (
		SELECT e.witnessed_at, e.voided_at
		FROM journal_entry e
		WHERE e.centre_id = r.centre_id AND e.id BETWEEN r.id AND r.id
		ORDER BY e.id) e`

// attend writes the attendance of a participant anew.
func attend(ctx context.Context, tx *pg.Tx, participant uuid.UUID) error {
	_, err := tx.Do(ctx, attendSQL, pgx.StrictNamedArgs{"id": participant, "now": tx.Now})
	return err
}

// otherwise returns, by roll call, what is to be said of those that place an
// unexpected person elsewhere than the one that counts: found on reading, since
// the one that counts may arrive last.
func otherwise(v dayview.View) map[uuid.UUID]finding.List {
	out := map[uuid.UUID]finding.List{}
	for _, c := range standingCalls(v.Calls) {
		p, there := v.Participant(c.ParticipantID)
		if !there || c.Role == nil || p.Placed || *c.Role == p.Role && same(c.GroupID, p.GroupID) &&
			same(c.EnrolmentID, p.EnrolmentID) {
			continue
		}
		f := PlacedOtherwise.Say("This roll call has {person} as {said}; an earlier one, which counts, as {stands}.", finding.Person(p.PersonID, p.PersonName),
			taking(v, *c.Role, c.GroupID), taking(v, p.Role,
				p.GroupID)).About(finding.Subject{Type: "participant", ID: p.ID.String()})
		if c.EnrolmentID != nil && p.EnrolmentID != nil && *c.EnrolmentID != *p.EnrolmentID {
			f.Message += " They name different enrolments."
		}
		f.Cures = []finding.Cure{{Code: "void_wrong", Message: "Void the roll call that is wrong."},
			{Code: "regroup", Message: "If both are right, the person changed groups: move the participant, which settles it."}}
		out[c.ID] = finding.List{f}
	}
	return out
}

// same reports whether two optional ids are the same, or both are missing.
func same(a, b *uuid.UUID) bool { return a == b || a != nil && b != nil && *a == *b }

// taking returns in words as what and in which group somebody takes part.
func taking(v dayview.View, role Role, group *uuid.UUID) string {
	if group == nil {
		return string(role) + " in no group"
	}
	g, _ := v.Group(*group)
	return fmt.Sprintf("%s in group %q", role, g.Name)
}

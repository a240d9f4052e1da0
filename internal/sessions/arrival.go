package sessions

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Somebody whom no plan expected is where the roll calls say that bring them.
// Each roll call keeps what it says; the earliest one that stands (ties by id)
// gives role, group and enrolment, whichever arrived first, until a decision
// places the person. While they disagree, whatever one of them says is enough
// for a fact about the person, or witnessed by the person, to be taken: so it
// does not matter which of them was known by then.

// called finds the participant that a call is about, or adds the unexpected one.
func called(ctx context.Context, tx *pg.Tx, row Session, parts []Participant, c Call, at string) (Participant, []Participant, error) {
	var have *Participant
	for i, p := range parts {
		if c.ParticipantID != nil && p.ID == *c.ParticipantID || c.Unexpected != nil && p.PersonID == c.Unexpected.PersonID {
			have = &parts[i]
		}
	}
	switch {
	case c.Unexpected == nil && have == nil:
		return Participant{}, parts, fault.UnknownReference("participant of this session", at+"/participant_id")
	case c.Unexpected == nil, have != nil && have.ID != Arrived(row.ID, have.PersonID):
		return *have, parts, nil // expected after all
	}
	gauge, err := checkUnexpected(ctx, tx, row, *c.Unexpected, at+"/unexpected")
	if err != nil {
		return Participant{}, parts, err
	}
	if have != nil {
		return *have, parts, nil
	}
	added, err := addUnexpected(ctx, tx, row, *c.Unexpected, gauge)
	return added, append(parts, added), err
}

// Arrived gives the id of the participant that an unexpected person becomes: a
// device that has no coverage can name the part before the service knows it.
func Arrived(session, person uuid.UUID) uuid.UUID { return uuid.NewSHA1(session, person[:]) }

// checkUnexpected holds what is said of an unexpected person against what there
// is, and gives the unit of the person's gauge.
func checkUnexpected(ctx context.Context, tx *pg.Tx, row Session, u Unexpected, at string) (gauge string, err error) {
	people, err := dayview.ReadPeople(ctx, tx, []uuid.UUID{u.PersonID}, row.OnDay)
	if err != nil {
		return "", err
	}
	who, ok := people[u.PersonID]
	if !ok {
		return "", fault.UnknownReference("person", at+"/person_id")
	}
	if (u.Role == Student) != (u.EnrolmentID != nil) {
		return "", fault.Invalid(at+"/enrolment_id", "A student takes part by an enrolment, and nobody else does.")
	}
	if u.EnrolmentID != nil {
		e, err := findEnrolments(ctx, tx, []uuid.UUID{*u.EnrolmentID})
		if err != nil {
			return "", err
		}
		if e[*u.EnrolmentID].PersonID != u.PersonID {
			return "", fault.UnknownReference("enrolment of this person", at+"/enrolment_id")
		}
	}
	if u.GroupID != nil {
		g, err := findGroup(ctx, tx, *u.GroupID)
		if err != nil && fault.KindOf(err) != fault.NotFound {
			return "", err
		}
		if err != nil || g.SessionID != row.ID {
			return "", fault.UnknownReference("group of this session", at+"/group_id")
		}
	}
	return string(who.GaugeUnit), nil
}

// addUnexpected makes the part of an unexpected person; attend places it.
func addUnexpected(ctx context.Context, tx *pg.Tx, row Session, u Unexpected, gauge string) (Participant, error) {
	id := Arrived(row.ID, u.PersonID)
	if _, err := tx.Do(ctx, `INSERT INTO participant (centre_id, id, session_id, group_id, person_id, enrolment_id, role, gauge_unit, booked, placed, during, body_digest, created_at, updated_at)
		SELECT app_centre(), @id, s.id, @group, @person, @enrolment, @role, @gauge, false, false, s.during, '', @now, @now
		FROM session s WHERE s.centre_id = app_centre() AND s.id = @session`,
		pgx.StrictNamedArgs{"id": id, "session": row.ID, "group": u.GroupID, "person": u.PersonID, "enrolment": u.EnrolmentID, "role": u.Role,
			"gauge": gauge, "now": tx.Now}); err != nil {
		return Participant{}, err
	}
	return findParticipant(ctx, tx, id)
}

// attend makes a participant's attendance what the latest roll call that stands
// says, in the order of what was witnessed, and the place of one whom no
// decision placed what the earliest one says. Where none stands, who was planned
// is expected, and who came unexpected was not there.
func attend(ctx context.Context, tx *pg.Tx, participant uuid.UUID) error {
	_, err := tx.Do(ctx, `UPDATE participant p SET version = p.version + 1, updated_at = @now,
			attendance = COALESCE(l.attendance, CASE WHEN p.placed THEN 'expected' ELSE 'absent' END), attendance_at = l.witnessed_at,
			not_diving = p.not_diving AND f.role IS DISTINCT FROM 'student',
			not_diving_by = CASE WHEN f.role IS DISTINCT FROM 'student' THEN p.not_diving_by END,
			not_diving_at = CASE WHEN f.role IS DISTINCT FROM 'student' THEN p.not_diving_at END,
			role = CASE WHEN f.role IS NULL THEN p.role ELSE f.role END,
			group_id = CASE WHEN f.role IS NULL THEN p.group_id ELSE f.group_id END,
			enrolment_id = CASE WHEN f.role IS NULL THEN p.enrolment_id ELSE f.enrolment_id END
		FROM (SELECT id, placed FROM participant WHERE centre_id = app_centre() AND id = @id) x
		LEFT JOIN LATERAL (
			SELECT r.attendance, e.witnessed_at FROM roll_call r JOIN journal_entry e ON e.centre_id = r.centre_id AND e.id = r.id
			WHERE r.centre_id = app_centre() AND r.participant_id = x.id AND e.voided_at IS NULL
			ORDER BY e.witnessed_at DESC, e.id DESC LIMIT 1) l ON true
		LEFT JOIN LATERAL (
			SELECT a.role, a.group_id, a.enrolment_id FROM sessions_arrival a
			WHERE a.centre_id = app_centre() AND a.participant_id = x.id AND NOT x.placed
			ORDER BY a.stands DESC, a.witnessed_at, a.id LIMIT 1) f ON true
		WHERE p.centre_id = app_centre() AND p.id = x.id`, pgx.StrictNamedArgs{"id": participant, "now": tx.Now})
	return err
}

// otherwise returns, by roll call, what is to be said of those that place an
// unexpected person elsewhere than the one that counts: found on reading, since
// the one that counts may arrive last.
func otherwise(v dayview.View) map[uuid.UUID]finding.List {
	out := map[uuid.UUID]finding.List{}
	for _, c := range standing(v.Calls) {
		p, there := v.Participant(c.ParticipantID)
		if !there || c.Role == nil || p.Placed || *c.Role == p.Role && same(c.GroupID, p.GroupID) && same(c.EnrolmentID, p.EnrolmentID) {
			continue
		}
		f := PlacedOtherwise.Say("This roll call has {person} as {said}; an earlier one, which counts, as {stands}.", p.PersonName,
			taking(v, *c.Role, c.GroupID), taking(v, p.Role, p.GroupID)).About(finding.Subject{Type: "participant", ID: p.ID.String()})
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

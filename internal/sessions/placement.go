package sessions

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
)

// Placement puts enrolments of one course into groups of its sessions.
type Placement struct {
	CourseID     uuid.UUID
	EnrolmentIDs []uuid.UUID
	SessionIDs   []uuid.UUID // empty: all sessions of the course that are planned
	GroupName    string      // "": the only group that each session has
}

// Place puts enrolments into the groups of several sessions, all or nothing.
// An enrolment that has its part in a session already keeps it, so placing
// again after a lost answer does no harm.
func (s *Service) Place(ctx context.Context, by actor.Actor, p Placement,
	accept []journal.Acceptance) (out []Participant, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, found = nil, nil
		sessions, err := holdPlanned(ctx, tx, p)
		if err != nil {
			return err
		}
		// Everybody is locked before the first session is judged, so that
		// the order of locks is kept over all of them.
		if err := lockEnrolled(ctx, tx, p.EnrolmentIDs); err != nil {
			return err
		}
		var refused finding.List
		for _, session := range sessions {
			f, err := s.placeIn(ctx, by, tx, session, p, accept)
			if f = append(f, findingsOf(err)...); err != nil && fault.KindOf(err) != fault.Refused {
				return err
			}
			found = append(found, f...)
			if err != nil {
				refused = append(refused, f...)
			}
		}
		if len(refused) > 0 {
			return refusal(refused)
		}
		out, err = placed(ctx, tx, sessions, p.EnrolmentIDs)
		return err
	})
	return out, found, err
}

// refusal makes one refusal of those of several sessions.
func refusal(l finding.List) error {
	if l.Forbids() {
		return fault.RefusedBy(l)
	}
	return fault.CautionsOpen(l)
}

// findingsOf returns the findings that a refusal carries.
func findingsOf(err error) finding.List {
	if f, ok := fault.Of(err); ok {
		return f.Findings
	}
	return nil
}

// holdPlanned locks the planned sessions that a placement is about, with their
// groups.
func holdPlanned(ctx context.Context, tx *pg.Tx, p Placement) ([]Session, error) {
	if err := lock(ctx, tx, `SELECT id FROM courses_lock WHERE centre_id = app_centre() AND id = ANY (@ids) FOR NO KEY UPDATE`, []uuid.UUID{p.CourseID}); err != nil {
		return nil, err
	}
	ids, err := pg.Rows[uuid.UUID](ctx, tx,
		`SELECT id FROM session WHERE centre_id = app_centre() AND course_id = @course
			AND (id = ANY (@some::uuid[]) OR cardinality(@some::uuid[]) = 0 AND state = 'planned') ORDER BY id`,
		pgx.StrictNamedArgs{"course": p.CourseID, "some": append([]uuid.UUID{}, p.SessionIDs...)})
	if err != nil {
		return nil, err
	}
	if len(ids) == 0 && len(p.SessionIDs) == 0 || len(ids) < len(p.SessionIDs) {
		_, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
			`SELECT id FROM courses_course WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": p.CourseID})
		if err == nil && !found {
			err = fault.NoSuch("course")
		}
		if err != nil {
			return nil, err
		}
		if len(p.SessionIDs) > 0 {
			return nil, unplaced(p.SessionIDs, ids, "session of this course", "/session_ids")
		}
		return nil, fault.WrongState("course", "without planned sessions", "Plan its sessions first.")
	}
	if err := lockSessions(ctx, tx, ids...); err != nil {
		return nil, err
	}
	if err := lockGroupsOf(ctx, tx, ids...); err != nil {
		return nil, err
	}
	return pg.Rows[Session](ctx, tx, `SELECT `+dayview.SessionColumns+
		` FROM session s WHERE s.centre_id = app_centre() AND s.id = ANY (@ids) ORDER BY s.starts_at, s.id`,
		pgx.StrictNamedArgs{"ids": ids})
}

func lockEnrolled(ctx context.Context, tx *pg.Tx, enrolments []uuid.UUID) error {
	known, err := findEnrolments(ctx, tx, enrolments)
	if err != nil {
		return err
	}
	if len(known) < len(enrolments) {
		return unplaced(enrolments, slices.Collect(maps.Keys(known)), "enrolment", "/enrolment_ids")
	}
	people := make([]uuid.UUID, 0, len(known))
	for _, e := range known {
		people = append(people, e.PersonID)
	}
	if err := lockPeople(ctx, tx, people...); err != nil {
		return err
	}
	return lockEnrolments(ctx, tx, enrolments...)
}

// unplaced points to the first id of a list that names nothing, or the same as
// one before it.
func unplaced(asked, known []uuid.UUID, what, pointer string) error {
	for i, id := range asked {
		if !slices.Contains(known, id) {
			return fault.UnknownReference(what, fmt.Sprintf("%s/%d", pointer, i))
		}
		if slices.Contains(asked[:i], id) {
			return fault.Invalid(fmt.Sprintf("%s/%d", pointer, i), "This id is given twice: once is enough.")
		}
	}
	return pg.ErrRetry
}

// placeIn places into one session those who have no part in it yet.
func (s *Service) placeIn(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, p Placement,
	accept []journal.Acceptance) (finding.List, error) {
	group, f, err := groupNamed(ctx, tx, session, p.GroupName)
	if err != nil || f != nil {
		return f, refusalIf(f, err)
	}
	have, err := placed(ctx, tx, []Session{session}, p.EnrolmentIDs)
	if err != nil {
		return nil, err
	}
	var add []NewParticipant
	for _, e := range p.EnrolmentIDs {
		if slices.ContainsFunc(have, func(x Participant) bool { return *x.EnrolmentID == e && !off(x) }) {
			continue
		}
		add = append(add, NewParticipant{Key: once.New(), SessionID: session.ID, GroupID: &group,
			EnrolmentID: &e, Role: Student})
	}
	if len(add) == 0 {
		return nil, nil
	}
	return s.join(ctx, by, tx, session, add, "create_placements", accept)
}

func refusalIf(l finding.List, err error) error {
	if err == nil && l.Forbids() {
		return fault.RefusedBy(nil)
	}
	return err
}

// groupNamed finds the group of a session to place into.
func groupNamed(ctx context.Context, tx *pg.Tx, session Session, name string) (uuid.UUID, finding.List, error) {
	groups, err := groupsOf(ctx, tx, session.ID)
	if err != nil {
		return uuid.Nil, nil, err
	}
	var fit []Group
	for _, g := range groups {
		if name == "" || g.Name == name {
			fit = append(fit, g)
		}
	}
	if len(fit) == 1 {
		return fit[0].ID, nil, nil
	}
	title := finding.Named{Type: "session", ID: session.ID.String(), Name: session.Title}
	f := NoSuchGroup.Say(`"{session}" has {groups} groups that could be meant, not one.`, title, len(fit))
	if name != "" {
		f = NoSuchGroup.Say(`"{session}" has {groups} groups named "{group}", not one.`, title, len(fit), name)
	}
	f = f.About(title.Subject())
	f.Found = finding.Count(len(fit), "groups")
	f.Cures = []finding.Cure{{Code: "create_group", Message: "Create a group with its instructor in charge."},
		{Code: "name_group", Message: "Name the group that is meant."}}
	return uuid.Nil, finding.List{f}, nil
}

// placed reads the parts that enrolments have in sessions.
func placed(ctx context.Context, tx *pg.Tx, sessions []Session, enrolments []uuid.UUID) ([]Participant, error) {
	ids := make([]uuid.UUID, len(sessions))
	for i, s := range sessions {
		ids[i] = s.ID
	}
	return pg.Rows[Participant](ctx, tx, `SELECT `+dayview.ParticipantColumns+` FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id = ANY (@sessions) AND p.enrolment_id = ANY (@enrolments) ORDER BY person_name, p.id`,
		pgx.StrictNamedArgs{"sessions": ids, "enrolments": enrolments})
}

// RemoveParticipant takes somebody off a session whom no record of it names.
// Taking crew away is judged by the ratio of the group.
func (s *Service) RemoveParticipant(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	accept []journal.Acceptance) (found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		p, err := findParticipant(ctx, tx, id)
		if err != nil {
			return err
		}
		session, err := hold(ctx, tx, p.SessionID)
		if err != nil {
			return err
		}
		if p, err = findParticipant(ctx, tx, id); err != nil {
			return err
		}
		if p.Version != version {
			return fault.Changed(p.Version)
		}
		if err := mayRearrange(session); err != nil {
			return err
		}
		if err := deleteParticipant(ctx, tx, p); err != nil {
			return err
		}
		found, err = s.conclude(ctx, by, tx, session, "remove_participant", judged{}, accept)
		return err
	})
	return found, err
}

// Unplace takes an enrolment off every session that is still planned, because
// it was withdrawn or transferred. Sessions are locked here, then the enrolment,
// so that it is not placed anew before it ends.
//
// The findings say where a record keeps the student in the list.
func (s *Service) Unplace(ctx context.Context, by actor.Actor, tx *pg.Tx,
	enrolment uuid.UUID) (found finding.List, err error) {
	ids, err := lockPlannedFor(ctx, tx, enrolment)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		session, err := findSession(ctx, tx, id)
		if err != nil {
			return nil, err
		}
		if session.State != Planned {
			continue
		}
		kept, err := unplaceFrom(ctx, tx, session, enrolment)
		if err != nil {
			return nil, err
		}
		found = append(found, kept...)
		if _, err := s.rejudge(ctx, by, tx, session, "enrolment_ended", fact); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// lockPlannedFor locks the planned sessions in which an enrolment has its part,
// with their groups, then the enrolment, and returns the sessions.
func lockPlannedFor(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID) ([]uuid.UUID, error) {
	ids, err := plannedFor(ctx, tx, enrolment)
	if err != nil {
		return nil, err
	}
	if err := lockSessions(ctx, tx, ids...); err != nil {
		return nil, err
	}
	if err := lockGroupsOf(ctx, tx, ids...); err != nil {
		return nil, err
	}
	if err := lockEnrolments(ctx, tx, enrolment); err != nil {
		return nil, err
	}
	now, err := plannedFor(ctx, tx, enrolment)
	if err == nil && slices.ContainsFunc(now, func(id uuid.UUID) bool { return !slices.Contains(ids, id) }) {
		err = pg.ErrRetry // placed there meanwhile
	}
	return ids, err
}

// plannedFor returns the planned sessions in which an enrolment has its part.
func plannedFor(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID) ([]uuid.UUID, error) {
	return pg.Rows[uuid.UUID](ctx, tx,
		`SELECT s.id FROM participant p JOIN session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		WHERE p.centre_id = app_centre() AND p.enrolment_id = @enrolment AND s.state = 'planned' ORDER BY s.id`, pgx.StrictNamedArgs{"enrolment": enrolment})
}

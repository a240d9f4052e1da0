package sessions

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
)

// Moment is somebody's time in, as the groups and people of a session are
// judged by.
type Moment struct {
	Participant uuid.UUID
	At          time.Time
}

// Stood is how somebody stood at a moment.
type Stood struct {
	Cleared *bool        // whether the group was within its ratio; nil: in no group
	Unready finding.List // what of papers and fitness speaks against being in the water that day
	Heads   finding.List // heads of the outing that were counted by then, and not settled
}

// calledAt is a roll call that stands.
type calledAt struct {
	ID            uuid.UUID
	ParticipantID uuid.UUID
	Attendance    Attendance
	At            time.Time
}

// callsOf reads the roll calls of a session that stand, in the order in which they
// were witnessed.
func callsOf(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]calledAt, error) {
	return pg.Many[calledAt](ctx, tx, `SELECT r.id, r.participant_id, r.attendance, e.witnessed_at AS at
		FROM roll_call r JOIN journal_entry e ON e.centre_id = r.centre_id AND e.id = r.id
		WHERE e.centre_id = app_centre() AND e.session_id = @session AND e.voided_at IS NULL ORDER BY e.witnessed_at, e.id`,
		pgx.StrictNamedArgs{"session": session})
}

// StoodAt judges, for moments of a session, whether the group was within its
// ratio then and whether the person was ready that day: by the roll calls and
// the conditions witnessed by then, in whichever order they reached the service,
// and by the groups as they are planned now.
func (s *Service) StoodAt(ctx context.Context, tx *pg.Tx, session uuid.UUID, moments []Moment) ([]Stood, error) {
	row, err := findSession(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	b, err := readBench(ctx, tx, row)
	if err != nil {
		return nil, err
	}
	water, err := reports(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	calls, err := callsOf(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	times := make([]time.Time, len(moments))
	for i, m := range moments {
		times[i] = m.At
	}
	heads, err := headsAt(ctx, tx, row, times)
	if err != nil {
		return nil, err
	}
	row.State = UnderWay // people are judged as at the opening
	out := make([]Stood, len(moments))
	for i, m := range moments {
		p, ok := b.participant(m.Participant)
		if !ok {
			continue
		}
		then := b.asOf(m.At, calls, water)
		out[i] = Stood{Cleared: then.cleared(p.GroupID), Heads: heads[i],
			Unready: judgePerson(b.centre.demands(row.OnDay), b.people[p.PersonID], row, p.Role)}
	}
	return out, nil
}

func (b bench) participant(id uuid.UUID) (Participant, bool) {
	for _, p := range b.parts {
		if p.ID == id {
			return p, true
		}
	}
	return Participant{}, false
}

// asOf gives the bench with the attendance and the water as witnessed by then.
func (b bench) asOf(at time.Time, calls []calledAt, water []reported) bench {
	attendance := map[uuid.UUID]Attendance{}
	for _, c := range calls {
		if !c.At.After(at) {
			attendance[c.ParticipantID] = c.Attendance
		}
	}
	b.parts = slices.Clone(b.parts)
	for i := range b.parts {
		a, called := attendance[b.parts[i].ID]
		gone := !called && b.parts[i].Attendance == Absent && b.parts[i].AttendanceAt == nil // no roll call that brought them stands
		b.parts[i].Counted = !called && !gone || a == Present || a == Late
	}
	b.session.Water = Water{}
	for _, r := range water {
		if !r.At.After(at) {
			b.session.Water = r.over(b.session.Water)
		}
	}
	return b
}

// cleared tells whether a group of the bench is within its ratio, nil for none.
func (b bench) cleared(group *uuid.UUID) *bool {
	for _, g := range b.groups {
		if group != nil && g.ID == *group {
			return new(!ratio.Judge(b.books, b.group(g)).Findings.Forbids())
		}
	}
	return nil
}

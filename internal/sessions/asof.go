package sessions

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
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

// PlaceAt is how somebody stood at a moment.
type PlaceAt struct {
	Cleared *bool        // whether the group was within its ratio; nil: in no group
	Unready finding.List // what of papers and fitness speaks against being in the water that day
	Heads   finding.List // heads of the outing that were counted by then, and not settled
}

// StoodAt judges, for moments of a session, whether the group was within its
// ratio then and whether the person was ready that day: by the roll calls and
// the conditions witnessed by then, in whichever order they reached the service,
// and by the groups as they are planned now. The view was read with people and facts.
func (s *Service) StoodAt(ctx context.Context, tx *pg.Tx, v dayview.View, moments []Moment) ([]PlaceAt, error) {
	b, err := snapshotOf(v)
	if err != nil {
		return nil, err
	}
	times := make([]time.Time, len(moments))
	for i, m := range moments {
		times[i] = m.At
	}
	heads, err := headsAt(ctx, tx, v.Session, times)
	if err != nil {
		return nil, err
	}
	row := v.Session
	row.State = UnderWay // people are judged as at the opening
	out := make([]PlaceAt, len(moments))
	for i, m := range moments {
		p, ok := b.Participant(m.Participant)
		if !ok {
			continue
		}
		then := b.asOf(m.At)
		out[i] = PlaceAt{Cleared: then.cleared(p.GroupID), Heads: heads[i],
			Unready: judgePerson(b.Centre.Demands(row.OnDay), b.People[p.PersonID], row, p.Role)}
	}
	return out, nil
}

// asOf returns the snapshot with the attendance and the water as witnessed by then.
func (b snapshot) asOf(at time.Time) snapshot {
	attendance := map[uuid.UUID]Attendance{}
	for _, c := range standingCalls(b.Calls) {
		if !c.At.After(at) {
			attendance[c.ParticipantID] = c.Attendance
		}
	}
	b.Participants = slices.Clone(b.Participants)
	for i, p := range b.Participants {
		a, called := attendance[p.ID]
		gone := !called && p.Attendance == Absent && p.AttendanceAt == nil // no roll call that brought them stands
		b.Participants[i].Counted = !called && !gone || a == Present || a == Late
	}
	b.Water = Water{}
	for _, r := range b.Reports {
		if !r.At.After(at) {
			b.Water = r.Over(b.Water)
		}
	}
	return b
}

// standingCalls returns the roll calls that were not voided.
func standingCalls(calls []dayview.Call) []dayview.Call {
	return slices.DeleteFunc(slices.Clone(calls), func(c dayview.Call) bool { return c.Voided })
}

// cleared reports whether a group of the session is within its ratio, nil for none.
func (b snapshot) cleared(group *uuid.UUID) *bool {
	for _, g := range b.Groups {
		if group != nil && g.ID == *group {
			return new(!ratio.Judge(b.books, b.group(g)).Findings.Forbids())
		}
	}
	return nil
}

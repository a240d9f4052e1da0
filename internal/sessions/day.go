package sessions

import (
	"context"
	"slices"
	"tankside/internal/standing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
)

// Day is one person's day: every session that the person has a part in, with
// all of its groups and participants and what speaks against going ahead.
type Day struct {
	PersonID uuid.UUID
	On       time.Time
	Sessions []SessionDay
}

// SessionDay is a session as somebody who works on it needs it.
type SessionDay struct {
	Session      Session
	Groups       []Group
	Participants []Participant
	Findings     finding.List // what speaks against going ahead, first what was found of the groups

	ofGroups int // how many of the findings are of the groups
}

// DayOf reads a person's day, by the days of the sessions in their own zones.
// A student sees only their own day.
func (s *Service) DayOf(ctx context.Context, by actor.Actor, person uuid.UUID, on time.Time) (out Day,
	err error) {
	if !permission.Covers("getDay", by, person) {
		return out, permission.Refusal("getDay", by)
	}
	out = Day{PersonID: person, On: on}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []uuid.UUID
		pg.QueueRows(&b, &known, `SELECT id FROM people_lock WHERE centre_id = app_centre() AND id = @person`,
			pgx.StrictNamedArgs{"person": person})
		rows := dayview.Query{Person: &person, On: &on, Want: dayview.People | dayview.Told}.Queue(&b)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if len(known) == 0 {
			return fault.NoSuch("person")
		}
		out.Sessions, err = s.judgeDay(ctx, tx, rows.Views())
		return err
	})
	return out, err
}

// judgeDay returns the sessions of a day with what their opening would find where they
// are planned, and what speaks against the groups where they are under way. What was
// learned before is not asked again once a session is under way: whoever joins it is
// judged then, and whoever comes unexpected at the time in.
func (s *Service) judgeDay(ctx context.Context, tx *pg.Tx, views []dayview.View) ([]SessionDay, error) {
	rows := make([]Session, len(views))
	for i, v := range views {
		rows[i] = v.Session
	}
	heads, err := headsOf(ctx, tx, rows)
	if err != nil {
		return nil, err
	}
	var out []SessionDay
	var students []standing.Entrant
	for _, v := range views {
		d := SessionDay{Session: v.Session, Groups: v.Groups, Participants: v.Participants}
		for _, g := range v.Groups {
			d.Findings = append(d.Findings, FoundOf(g)...)
		}
		d.ofGroups = len(d.Findings)
		d.Findings = append(append(d.Findings, heads[v.ID]...), asOpened(v)...)
		for _, p := range v.Participants {
			if v.State == Planned && p.Counted && p.Role == Student {
				students = append(students, standing.Entrant{SessionID: v.ID, EnrolmentID: *p.EnrolmentID})
			}
		}
		out = append(out, d)
	}
	unlearned, err := s.notLearned(ctx, tx, students)
	if err != nil {
		return nil, err
	}
	for i := range out {
		out[i].Findings = append(out[i].Findings, unlearned[out[i].Session.ID]...)
	}
	return out, showAcceptances(ctx, tx, out)
}

// showAcceptances adds to what was found of each session who accepted its cautions. One that its opening
// will find needs an acceptance; the other cautions about groups were accepted, where that was needed, by
// who changed the group.
func showAcceptances(ctx context.Context, tx *pg.Tx, days []SessionDay) error {
	var ids []uuid.UUID // of sessions with something to accept
	for _, d := range days {
		if d.Findings.Has(finding.Caution) {
			ids = append(ids, d.Session.ID)
		}
	}
	accepted, err := journal.AcceptedOf(ctx, tx, "session", ids)
	for i, d := range days {
		all := d.Findings.InSession(d.Session.ID.String())
		days[i].Findings = journal.Pending(all, accepted[d.Session.ID])
		for k, f := range days[i].Findings {
			asked := d.Session.State == Planned && (k >= d.ofGroups || f.Rule == ratio.LeaderNotDiving.ID)
			days[i].Findings[k].NeedsAcceptance = f.NeedsAcceptance && asked
		}
	}
	return err
}

// asOpened returns what of its people, beside what they learned, would be found at the
// opening of a session that is planned or under way.
func asOpened(v dayview.View) (out finding.List) {
	if v.State != Planned && v.State != UnderWay {
		return nil
	}
	if v.State == Planned && v.InWater() {
		out = append(out, readiness.LeftOpen(v)...)
	}
	unready, t := Unready(v), toldOf(v)
	counted := slices.DeleteFunc(slices.Clone(v.Participants), func(p Participant) bool { return !p.Counted })
	for _, p := range counted {
		out = append(out, unready[p.ID]...)
		if v.InWater() {
			out = append(out, t.besides(p)...)
		}
	}
	if v.InWater() {
		out = append(out, readiness.Untold(v, counted)...)
	}
	return out
}

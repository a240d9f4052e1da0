package sessions

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/standing"
)

// OpenSession opens a session: refused while anybody who does not sit out is
// unready, unbriefed, in no group or in one that is not cleared, or has not
// learned what comes before, while anybody who is to make the first dive was told no
// low-gas pressure, and while heads of its outing are not settled.
func (s *Service) OpenSession(ctx context.Context, by actor.Actor, id uuid.UUID, version *int64,
	accept []journal.Acceptance) (out Session, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, err := hold(ctx, tx, id)
		if err != nil {
			return err
		}
		if row.State == UnderWay {
			out, found = row, nil
			return nil
		}
		if err := from(row, Planned, version,
			"Only a planned session is opened: plan another one."); err != nil {
			return err
		}
		if err := courseActive(ctx, tx, row); err != nil {
			return err
		}
		if row.OutingID != nil { // no count comes in between
			if err := lockOutings(ctx, tx, *row.OutingID); err != nil {
				return err
			}
		}
		on, f, err := s.judgeOpening(ctx, by, tx, row)
		if err != nil {
			return err
		}
		if found, err = settle(ctx, by, tx, row.ID, "open_session", f, on, accept); err != nil {
			return err
		}
		out, err = setState(ctx, tx, row, UnderWay, "")
		return err
	})
	return out, found, err
}

// judgeOpening judges whether a session may be opened, and returns too what it was
// judged on.
func (s *Service) judgeOpening(ctx context.Context, by actor.Actor, tx *pg.Tx,
	row Session) (on decision.Session, found finding.List, err error) {
	// A paper may have lapsed or been voided since the groups were judged last.
	j, err := s.rejudge(ctx, by, tx, row, "open_session", fact)
	if err != nil {
		return on, nil, err
	}
	var counted []Participant
	persons := personsJudged{}
	row.State = UnderWay // people are judged as at the opening
	for _, p := range j.snapshot.Participants {
		if p.Counted {
			counted = append(counted, p)
			who := j.snapshot.People[p.PersonID]
			persons[p.PersonID] = decision.Judged{Roles: who.Roles}
			found = append(found, judgePerson(j.snapshot.Centre.Demands(row.OnDay), who, row, p.Role)...)
		}
	}
	on = j.judgedOn(decision.Opening, persons)
	heads, err := headsAgainst(ctx, tx, row)
	if err != nil || !row.InWater() {
		return on, append(found, heads...), err
	}
	found = append(append(found, j.all().Only(finding.Forbidden)...), j.all().Of(ratio.LeaderNotDiving)...)
	v := j.snapshot.View
	setToldBy(on, readiness.Told(v))
	missed, err := s.notYet(ctx, tx, toldOf(v), counted)
	return on, slices.Concat(found, missed, readiness.LeftOpen(v), heads), err
}

// notYet finds what keeps some participants out of the water of a session that is
// opened or under way, beside papers and the ratio: no group, no briefing that
// counts, no low-gas pressure, or something to be learned before.
func (s *Service) notYet(ctx context.Context, tx *pg.Tx, t told, parts []Participant) (finding.List, error) {
	found := readiness.Untold(t.View, parts)
	var students []standing.Entrant
	for _, p := range parts {
		found = append(found, t.besides(p)...)
		if p.Role == Student {
			students = append(students, standing.Entrant{SessionID: t.ID, EnrolmentID: *p.EnrolmentID})
		}
	}
	unlearned, err := s.notLearned(ctx, tx, students)
	return append(found, unlearned[t.ID]...), err
}

// notLearned finds, by session, which students have not learned what comes before
// getting into its water.
func (s *Service) notLearned(ctx context.Context, tx *pg.Tx, students []standing.Entrant) (map[uuid.UUID]finding.List,
	error) {
	if len(students) == 0 {
		return nil, nil
	}
	return s.standings.Prerequisites(ctx, tx, students)
}

func ungrouped(p Participant) finding.List {
	if p.GroupID != nil {
		return nil
	}
	f := Ungrouped.Say("{person} is in no group.",
		finding.Person(p.PersonID, p.PersonName)).About(finding.Subject{Type: "participant", ID: p.ID.String()})
	f.Cures = []finding.Cure{{Code: "regroup",
		Message: "Move the student into a group, or let the student sit out."}}
	return finding.List{f}
}

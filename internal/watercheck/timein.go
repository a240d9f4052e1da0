package watercheck

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/waterview"
)

// DiveSnapshot is the snapshot of one dive, with what was logged in its session.
type DiveSnapshot struct {
	Snapshot
	Dive    dayview.Dive
	Log     []waterview.Dive
	lessons standing.Lessons
	books   []ratio.Book // that the centre applies
	level   ratio.Level  // of the session's course
}

// diveParts are the parts of a view by which a dive is judged.
const diveParts = dayview.People | dayview.Agreed | dayview.Taught

// judge makes ready what dives are judged by.
func (d *DiveSnapshot) judge(ctx context.Context, tx *pg.Tx, standings *standing.Reader) (err error) {
	if err := d.applyBooks(); err != nil {
		return err
	}
	d.lessons, err = standings.LessonsOf(ctx, tx, d.View)
	return err
}

// ReadDive reads the snapshot of a dive. Fault: not_found.
func (c *Checker) ReadDive(ctx context.Context, tx *pg.Tx, dive uuid.UUID, a Mentions) (DiveSnapshot, error) {
	d := DiveSnapshot{}
	session, found, err := pg.OptionalRow[uuid.UUID](ctx, tx, sessionOfDive, pgx.StrictNamedArgs{"id": dive})
	if err == nil && !found {
		err = fault.NoSuch("dive")
	}
	if err != nil {
		return d, err
	}
	d.Snapshot, err = ReadSnapshot(ctx, tx, session, diveParts, a, func(b *pgx.Batch) {
		waterview.QueueDives(b, &d.Log, session)
	})
	if err != nil {
		return d, err
	}
	d.Dive = d.planned(dive)
	return d, d.judge(ctx, tx, c.standings)
}

const sessionOfDive = `
	SELECT d.session_id
	FROM sessions_dive d
	WHERE d.centre_id = app_centre() AND d.id BETWEEN @id AND @id
	ORDER BY d.id`

// DiveIn reads what the snapshot of a dive has beside the view of its session.
func (c *Checker) DiveIn(ctx context.Context, tx *pg.Tx, v dayview.View, dive uuid.UUID, a Mentions) (DiveSnapshot,
	error) {
	d := DiveSnapshot{}
	var b pgx.Batch
	var f facts
	f.queue(&b, v.ID, a)
	waterview.QueueDives(&b, &d.Log, v.ID)
	if err := tx.Send(ctx, &b); err != nil {
		return d, err
	}
	d.Snapshot = newSnapshot(v, f)
	d.Dive = d.planned(dive)
	return d, d.judge(ctx, tx, c.standings)
}

// number returns the number of the training dive, 0 when it is none.
func (d DiveSnapshot) number() int {
	if d.Dive.TrainingDive == nil {
		return 0
	}
	return *d.Dive.TrainingDive
}

// JudgeGroup returns what of the groups speaks against somebody being in the water.
func JudgeGroup(p Participant) finding.List {
	end := finding.Cure{Code: "end_dive",
		Message: "End the dive as the instructor in charge decides, and put the group right."}
	switch {
	case p.Cleared == nil && p.Role == "student":
		f := NoGroup.Say("{person} is in no group.", p.named()).About(p.subject())
		f.Cures = []finding.Cure{end}
		return finding.List{f}
	case p.Cleared != nil && !*p.Cleared:
		f := GroupNotCleared.Say("The group of {person} is over its ratio: end the dive.",
			p.named()).About(p.subject(), finding.Subject{Type: "group", ID: p.GroupID.String()})
		f.Cures = []finding.Cure{end}
		return finding.List{f}
	}
	return nil
}

// JudgeBriefing points out somebody who went in before having been briefed.
func (d DiveSnapshot) JudgeBriefing(p Participant, at time.Time) finding.List {
	acknowledged := d.View.BriefedAt(p.PersonID)
	if acknowledged != nil && !acknowledged.After(at) {
		return nil
	}
	f := NotBriefed.Say("{person} went in without having acknowledged a briefing.",
		p.named()).About(p.subject())
	if acknowledged != nil {
		f = NotBriefed.Say("{person} went in at {in_at} and acknowledged the briefing at {acknowledged_at}.",
			p.named(), d.Session.Clock(at),
			d.Session.Clock(*acknowledged)).About(p.subject())
	}
	f.Cures = []finding.Cure{{Code: "enter_briefing",
		Message: "Enter the briefing that was given, with its own time; otherwise end the dive as the " +
			"instructor in charge decides."}}
	return finding.List{f}
}

// JudgeInTwice points out a second time in on the same dive, and one while the
// person was still in on another.
func (d DiveSnapshot) JudgeInTwice(p Participant, at time.Time) finding.List {
	var out finding.List
	for _, l := range d.Log {
		if l.ParticipantID != p.ID {
			continue
		}
		var which string
		switch still := l.InAt.Before(at) && (l.OutAt == nil || at.Before(*l.OutAt)); {
		case l.DiveID == d.Dive.ID:
			which = "this dive"
		case still:
			which = "another dive of the session and had not come out"
		default:
			continue
		}
		out = append(out, InAlready.Say("{person} went in at {in_at} on {dive}.", p.named(),
			d.Session.Clock(l.InAt), which).
			About(p.subject(), finding.Subject{Type: "entry", ID: l.StartID.String()}))
	}
	return out
}

// Teamed is a participant who goes in with a buddy team; nil for none.
type Teamed struct {
	Participant uuid.UUID
	Team        *string
}

// JudgeTeam points out a buddy team that is not two or three, with those of it who
// went in on the dive before. That a team is one diver is only said where others
// come in the same call: they may be on their way one by one.
func (d DiveSnapshot) JudgeTeam(all []Teamed, t Teamed) finding.List {
	if t.Team == nil {
		return nil
	}
	divers := map[uuid.UUID]bool{}
	for _, o := range all {
		if o.Team != nil && *o.Team == *t.Team {
			divers[o.Participant] = true
		}
	}
	for _, l := range d.Log {
		if l.DiveID == d.Dive.ID && l.Team != nil && *l.Team == *t.Team {
			divers[l.ParticipantID] = true
		}
	}
	n := len(divers)
	if n <= 3 && (n >= 2 || len(all) == 1) {
		return nil
	}
	said := `Team "{team}" has {divers} divers.`
	if n == 1 {
		said = `Team "{team}" has {divers} diver.`
	}
	f := TeamSize.Say(said, *t.Team,
		n).About(finding.Subject{Type: "participant", ID: t.Participant.String()})
	f.Limit, f.Found = finding.Words("2 or 3 divers"), finding.Count(n, "divers")
	return finding.List{f}
}

// JudgePrerequisites judges whether what the student learned before lets the student into
// the water. A dive of the same day that has not ended yet counts as done.
func (d DiveSnapshot) JudgePrerequisites(e standing.Enrolment, p Participant) finding.List {
	c := syllabus.DiveRequest{Syllabus: e.Syllabus, Standing: *e.Standing, Setting: d.Session.Kind,
		Number: d.number(), On: d.Session.Day(),
		Age: p.age(d.Session), SiteMax: d.Session.SiteMax()}
	c.Standing.Dives = nil
	for _, o := range e.Standing.Dives {
		switch here := !o.Voided && o.On == c.On; {
		case here && o.Number == c.Number:
			continue // a second time in on the same dive has its own finding
		case here && o.Duration.IsZero():
			before := c
			before.Number = o.Number
			o = standing.AsPlanned(e.Syllabus, before)
		}
		c.Standing.Dives = append(c.Standing.Dives, o)
	}
	return standing.ForStudent(e, syllabus.MayDive(c))
}

package training

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/signal"
	"tankside/internal/syllabus"
)

// diving is the stage of one dive, with what was logged in its session.
type diving struct {
	stage
	dive    Dive
	log     []LoggedDive
	lessons lessons
	books   []ratio.Book // that the centre applies
	level   ratio.Level  // of the session's course
}

// diveParts are the parts of a view by which a dive is judged.
const diveParts = dayview.People | dayview.Agreed | dayview.Taught

// judge makes ready what dives are judged by.
func (d *diving) judge(ctx context.Context, tx *pg.Tx, s *Service) (err error) {
	if err := d.applyBooks(); err != nil {
		return err
	}
	d.lessons, err = s.lessonsOf(ctx, tx, d.view)
	return err
}

// readDive reads the stage of a dive.
func (s *Service) readDive(ctx context.Context, tx *pg.Tx, dive uuid.UUID, a asked) (diving, error) {
	d := diving{}
	session, found, err := pg.OptionalRow[uuid.UUID](ctx, tx, sessionOfDive, pgx.StrictNamedArgs{"id": dive})
	if err == nil && !found {
		err = fault.NoSuch("dive")
	}
	if err != nil {
		return d, err
	}
	d.stage, err = readStage(ctx, tx, session, diveParts, a, func(b *pgx.Batch) {
		pg.QueueRows(b, &d.log, loggedSQL, pgx.StrictNamedArgs{"session": session})
	})
	if err != nil {
		return d, err
	}
	d.dive = d.planned(dive)
	return d, d.judge(ctx, tx, s)
}

const sessionOfDive = `
	SELECT d.session_id
	FROM sessions_dive d
	WHERE d.centre_id = app_centre() AND d.id BETWEEN @id AND @id
	ORDER BY d.id`

// diveIn returns the stage of a dive of a session that was read, with what entries ask.
func (s *Service) diveIn(ctx context.Context, tx *pg.Tx, v dayview.View, dive uuid.UUID, a asked) (diving,
	error) {
	d := diving{}
	var b pgx.Batch
	var f facts
	f.queue(&b, v.ID, a)
	pg.QueueRows(&b, &d.log, loggedSQL, pgx.StrictNamedArgs{"session": v.ID})
	if err := tx.Send(ctx, &b); err != nil {
		return d, err
	}
	d.stage = newStage(v, f)
	d.dive = d.planned(dive)
	return d, d.judge(ctx, tx, s)
}

// number returns the number of the training dive, 0 when it is none.
func (d diving) number() int {
	if d.dive.TrainingDive == nil {
		return 0
	}
	return *d.dive.TrainingDive
}

// Unready has, by participant, what speaks against somebody being in the water
// today that training does not know: papers, fitness and what the briefing told.
type Unready map[uuid.UUID]finding.List

// LogTimesIn records who went in on a dive of a session that was read with its people,
// its roll calls and what was told and taught. unready has what speaks against it that training does
// not know. A time in is never refused by a rule.
func (s *Service) LogTimesIn(ctx context.Context, by actor.Actor, tx *pg.Tx, v dayview.View, dive uuid.UUID,
	in []TimeIn,
	unready Unready) ([]journal.Result, error) {
	d, err := s.diveIn(ctx, tx, v, dive,
		ask(in, func(t TimeIn) (uuid.UUID, *uuid.UUID) { return t.ID, t.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	learned, err := s.standings(ctx, tx, d.enrolmentsOf(in))
	if err != nil {
		return nil, err
	}
	b, err := collect(d.stage, dive, in, func(t TimeIn) uuid.UUID { return t.ID },
		func(t TimeIn, at string) (journal.Entry, timeInRow, error) {
			e, row, err := d.timeIn(by, tx.Now, t, at)
			if err != nil {
				return e, row, err
			}
			p := d.parts[t.ParticipantID]
			e.Also = append(e.Also, unready[p.ID]...)
			e.Also = append(e.Also, d.teamOf(in, t)...)
			if p.EnrolmentID != nil {
				e.Also = append(e.Also, d.mayEnter(*learned[*p.EnrolmentID], p)...)
			}
			d.log = append(d.log, LoggedDive{StartID: t.ID, DiveID: dive, ParticipantID: p.ID, InAt: t.InAt,
				Team: t.Team})
			return e, row, nil
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertTimesIn)
}

// enrolmentsOf returns the enrolments by which people go in.
func (d diving) enrolmentsOf(in []TimeIn) []uuid.UUID {
	out := []uuid.UUID{}
	for _, t := range in {
		if p, ok := d.parts[t.ParticipantID]; ok && p.EnrolmentID != nil {
			out = append(out, *p.EnrolmentID)
		}
	}
	return out
}

func (d diving) timeIn(by actor.Actor, now time.Time, t TimeIn,
	at string) (e journal.Entry, row timeInRow, err error) {
	p, err := d.participant(t.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if t.Rating != nil && t.Rating.Value <= 0 {
		return e, row, fault.Invalid(at+"/cylinder_rating",
			fmt.Sprintf("%s is no cylinder's rating.", t.Rating))
	}
	if err := checkPressure(t.Rating, nil, at+"/cylinder_rating"); err != nil {
		return e, row, err
	}
	if err := checkPressure(t.Start, t.Rating, at+"/start_pressure"); err != nil {
		return e, row, err
	}
	saw, err := d.witness(by, now, sighting{t.WitnessedBy, t.InAt, "in_at"}, at)
	if err != nil {
		return e, row, err
	}
	row = timeInRow{ID: t.ID, DiveID: d.dive.ID, ParticipantID: p.ID, Team: t.Team, SizeValue: value(t.Size),
		SizeUnit:    unit(t.Size),
		RatingValue: value(t.Rating), RatingUnit: unit(t.Rating), OxygenPercent: t.OxygenPercent, StartValue: value(t.Start), StartUnit: unit(t.Start)}
	e = d.entry(journal.DiveStart, p, saw, t.InAt,
		signal.JudgeStart(agreed{d.view}.marks(p.ID, p.GaugeUnit, &d.dive.ID), t.Start))
	e.Also = slices.Concat(e.Also, mayBeIn(p), d.notBriefed(p, t.InAt), d.inAlready(p, t.InAt))
	return e, row, nil
}

// mayBeIn returns what of the groups speaks against somebody being in the water.
func mayBeIn(p part) finding.List {
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

// notBriefed points out somebody who went in before having been briefed.
func (d diving) notBriefed(p part, at time.Time) finding.List {
	acknowledged := d.view.BriefedAt(p.PersonID)
	if acknowledged != nil && !acknowledged.After(at) {
		return nil
	}
	f := NotBriefed.Say("{person} went in without having acknowledged a briefing.",
		p.named()).About(p.subject())
	if acknowledged != nil {
		f = NotBriefed.Say("{person} went in at {in_at} and acknowledged the briefing at {acknowledged_at}.",
			p.named(), d.session.clock(at),
			d.session.clock(*acknowledged)).About(p.subject())
	}
	f.Cures = []finding.Cure{{Code: "enter_briefing",
		Message: "Enter the briefing that was given, with its own time; otherwise end the dive as the instructor in charge decides."}}
	return finding.List{f}
}

// inAlready points out a second time in on the same dive, and one while the
// person was still in on another.
func (d diving) inAlready(p part, at time.Time) finding.List {
	var out finding.List
	for _, l := range d.log {
		if l.ParticipantID != p.ID {
			continue
		}
		var which string
		switch still := l.InAt.Before(at) && (l.OutAt == nil || at.Before(*l.OutAt)); {
		case l.DiveID == d.dive.ID:
			which = "this dive"
		case still:
			which = "another dive of the session and had not come out"
		default:
			continue
		}
		out = append(out, InAlready.Say("{person} went in at {in_at} on {dive}.", p.named(),
			d.session.clock(l.InAt), which).
			About(p.subject(), finding.Subject{Type: "entry", ID: l.StartID.String()}))
	}
	return out
}

// teamOf points out a buddy team that is not two or three, with those of it who
// went in on the dive before. That a team is one diver is only said where others
// come in the same call: they may be on their way one by one.
func (d diving) teamOf(all []TimeIn, t TimeIn) finding.List {
	if t.Team == nil {
		return nil
	}
	divers := map[uuid.UUID]bool{}
	for _, o := range all {
		if o.Team != nil && *o.Team == *t.Team {
			divers[o.ParticipantID] = true
		}
	}
	for _, l := range d.log {
		if l.DiveID == d.dive.ID && l.Team != nil && *l.Team == *t.Team {
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
		n).About(finding.Subject{Type: "participant", ID: t.ParticipantID.String()})
	f.Limit, f.Found = finding.Words("2 or 3 divers"), finding.Count(n, "divers")
	return finding.List{f}
}

// mayEnter judges whether what the student learned before lets the student into
// the water. A dive of the same day that has not ended yet counts as done.
func (d diving) mayEnter(e enrolment, p part) finding.List {
	c := syllabus.DiveRequest{Syllabus: e.Syllabus, Standing: *e.Standing, Setting: d.session.Kind,
		Number: d.number(), On: d.session.day(),
		Age: p.age(d.session), SiteMax: d.session.siteMax()}
	c.Standing.Dives = nil
	for _, o := range e.Standing.Dives {
		switch here := !o.Voided && o.On == c.On; {
		case here && o.Number == c.Number:
			continue // a second time in on the same dive has its own finding
		case here && o.Duration.IsZero():
			before := c
			before.Number = o.Number
			o = asPlanned(e.Syllabus, before)
		}
		c.Standing.Dives = append(c.Standing.Dives, o)
	}
	return named(e, syllabus.MayDive(c))
}

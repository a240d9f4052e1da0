package planning

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/nostop"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// DiveDay is a person's day under water: what was done and what is planned, over
// the real sequence of sessions, with what the tables say of it.
type DiveDay struct {
	PersonID uuid.UUID
	On       time.Time
	Earlier  []DayDive // of the days before whose nitrogen still counts on that day
	Dives    []DayDive // of that day, in the order of their times in
	Flying   nostop.Wait
	GoingUp  []nostop.Wait // going up to 1000 ft, 2000 ft, ... 10 000 ft by road or on foot
	Settings nostop.Settings
	Findings finding.List // of the dives of that day, and about waiting
}

// Ascents returns how often the person comes up that day.
func (d DiveDay) Ascents() (n int) {
	for _, x := range d.Dives {
		n += max(1, x.Result.Dive.Ascents)
	}
	return n
}

// firstYear is the first whose days are read: our choice, before any dive centre.
const firstYear = 1900

// DivesOn returns a person's dives of a day. A student reads their own; crew,
// managers and programs everybody's.
func (s *Service) DivesOn(ctx context.Context, by actor.Actor, person uuid.UUID, on time.Time) (out DiveDay,
	err error) {
	if !permission.Covers("getDivesOfDay", by, person) {
		return out, permission.Refusal("getDivesOfDay", by)
	}
	if on.Year() < firstYear {
		f := fault.Invalid("date",
			fmt.Sprintf("Nobody dived with a centre's cylinders before %d: name a later day.", firstYear))
		f.Findings[0].In = "path"
		return out, f
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []uuid.UUID
		var centre []gasplan.GasSettings
		pg.QueueRows(&b, &known, personSQL, pgx.StrictNamedArgs{"person": person})
		queueGasSettings(&b, &centre)
		// The latest place on earth ends its day 12 h after UTC does.
		dives := queueDives(&b, []uuid.UUID{person}, on.Add(36*time.Hour), tx.Now)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if len(known) == 0 {
			return fault.NoSuch("person")
		}
		var set gasplan.GasSettings
		if len(centre) > 0 {
			set = centre[0]
		}
		out = dayOf(person, on, dives()[person], ofDay(set))
		return nil
	})
	return out, err
}

// ofDay returns what the settings say of a day's dives, defaults where they say
// nothing.
func ofDay(s gasplan.GasSettings) nostop.Settings {
	s = s.Or(gasplan.DefaultGasSettings())
	return nostop.Settings{Margin: nostop.Minutes(units.RoundUp(s.NoStopMargin.Reading().Minutes(), 1)),
		DivesADay: s.DivesADay, AscentsDay: s.AscentsADay}
}

// dayOf judges a person's dives up to the end of a day.
func dayOf(person uuid.UUID, on time.Time, dives []DayDive, set nostop.Settings) DiveDay {
	dives = slices.DeleteFunc(slices.Clone(dives), func(d DayDive) bool { return d.On.After(on) })
	plan := judge(dives, set)
	out := DiveDay{PersonID: person, On: on, Settings: plan.Settings, Flying: plan.BeforeFlying(nostop.Cabin),
		GoingUp: plan.BeforeAltitudes()}
	for _, d := range dives {
		d.note()
		if d.On.Equal(on) {
			out.Dives = append(out.Dives, d)
			out.Findings = append(out.Findings, d.Result.Findings...)
		} else if on.Sub(d.Result.Dive.Out) < lookBehind {
			out.Earlier = append(out.Earlier, d)
		}
	}
	out.Findings = append(out.Findings, out.Flying.Findings...)
	return out
}

// judge puts dives in the order of their times in and gives each what the tables
// say of it.
func judge(dives []DayDive, set nostop.Settings) nostop.Plan {
	slices.SortStableFunc(dives, func(a, b DayDive) int { return a.Result.Dive.In.Compare(b.Result.Dive.In) })
	sequence := make([]nostop.Dive, len(dives))
	for i, d := range dives {
		sequence[i] = d.Result.Dive
		sequence[i].Key = d.name() // messages are for people
	}
	plan := nostop.Judge(sequence, set)
	for i, r := range plan.Results { // as stable as the order above
		r.Dive.Key = dives[i].Result.Dive.Key
		for _, f := range r.Findings {
			for j, s := range f.Subjects {
				if s.Type == "dive" {
					f.Subjects[j].ID = r.Dive.Key
				}
			}
		}
		dives[i].Result, plan.Results[i] = r, r
	}
	return plan
}

// name is what messages call the dive.
func (d DayDive) name() string { return fmt.Sprintf("%s, dive %d", d.SessionTitle, d.Number) }

// note adds what is to be said of how the dive was recorded.
func (d *DayDive) note() {
	subject := finding.Subject{Type: "dive", ID: d.Result.Dive.Key}
	switch {
	case d.Unrecorded:
		f := DiveNotRecorded.Say("{session} is closed and nothing was recorded of dive {dive}; it counts as planned, {own} to {depth}.", d.SessionTitle, d.Number, d.Result.Own, d.Result.Dive.Depth).About(subject)
		f.Cures = []finding.Cure{{Code: "record_dive",
			Message: "Record the time in and the time out, or in the roll call that the person sat out."}}
		d.Result.Findings = append(d.Result.Findings, f)
	case d.Running:
		f := NoTimeOut.Say("No time out is recorded of dive {dive} of {session}; it counts until {until}.",
			d.Number, d.SessionTitle, finding.Clock(d.Result.Dive.Out, d.Result.Dive.Out.Location())).
			About(subject)
		f.Cures = []finding.Cure{{Code: "record_time_out",
			Message: "Record the time out and the greatest depth."}}
		d.Result.Findings = append(d.Result.Findings, f)
	}
}

// nextDive is a dive that is being planned: of a session, or one dive of it.
type nextDive struct {
	SessionID uuid.UUID
	DiveID    *uuid.UUID    // nil: every dive of the session
	Depth     units.Reading // the greatest
	Under     time.Duration // from time in to time out, the ascent with its stop included
}

// NoStop is what somebody's earlier dives leave for a dive that is being planned.
// Who has no part in the session, or none that counts, has no Dives and an
// unlimited Left.
type NoStop struct {
	PersonID uuid.UUID
	Left     nostop.Limit // the longest from time in to time out, the strictest of the dives planned
	Dives    []DayDive    // those being planned, as judged after the earlier ones
	Earlier  []DayDive    // those before them that were read, up to three days back
	Findings finding.List // of the dives being planned, each about the dive; the message does not name the person
}

// after judges the dive that is being planned in one person's sequence. A plan's
// bottom time is shorter than Left by its ascent with its stop.
func (n nextDive) after(person uuid.UUID, dives []DayDive, set nostop.Settings) NoStop {
	out := NoStop{PersonID: person, Left: nostop.Limit{Unlimited: true}}
	dives = slices.Clone(dives)
	for i := range dives {
		if d := &dives[i]; n.plans(*d) {
			d.DepthFrom, d.TimeFrom = ConfirmedPlan, ConfirmedPlan
			d.Result.Dive.Depth, d.Result.Dive.Out = n.Depth, d.Result.Dive.In.Add(n.Under)
		}
	}
	judge(dives, set)
	for _, d := range dives {
		if !n.plans(d) {
			if len(out.Dives) == 0 {
				out.Earlier = append(out.Earlier, d)
			}
			continue
		}
		out.Dives = append(out.Dives, d)
		out.Findings = append(out.Findings, d.Result.Findings...)
		if left := d.Result.Left; !left.Unlimited && (out.Left.Unlimited || left.At < out.Left.At) {
			out.Left = left
		}
	}
	return out
}

// plans reports whether a dive of somebody is one of those being planned. What was
// done is planned no more.
func (n nextDive) plans(d DayDive) bool {
	return d.SessionID == n.SessionID && (n.DiveID == nil || d.DiveID == *n.DiveID) && !d.Result.Dive.Done
}

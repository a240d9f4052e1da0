// Package diveday reads the sequence of a person's dives, done and planned, over the
// sessions of a centre: what the no-stop tables leave for each, and the breathing rate
// that was learned from those that were logged.
//
// It owns no table and writes none: it reads sessions, courses, what was logged and the
// gas plans, in one batch of statements however many people there are. It must not know
// how a limit or a rate is worked out: packages nostop and gas do that.
package diveday

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

// Reader reads dive days and breathing rates for callers of the API.
type Reader struct{ db *pg.DB }

// New returns a reader on a database.
func New(db *pg.DB) *Reader { return &Reader{db: db} }

// Day is a person's dives of one day, done and planned, as the no-stop tables judge
// them in the sequence of all their dives.
type Day struct {
	PersonID uuid.UUID
	On       time.Time
	Earlier  []Dive // of the days before, whose nitrogen still counts on that day
	Dives    []Dive // of that day, in the order of their times in
	Flying   nostop.Wait
	GoingUp  []nostop.Wait // going up to 1000 ft, 2000 ft, ... 10 000 ft by road or on foot
	Settings nostop.Settings
	Findings finding.List // of the dives of that day, and about waiting
}

// Ascents returns the number of ascents of that day, at least one a dive.
func (d Day) Ascents() (n int) {
	for _, x := range d.Dives {
		n += max(1, x.Result.Dive.Ascents)
	}
	return n
}

// firstYear is the first year whose days are read: our choice, before any dive centre.
const firstYear = 1900

// DivesOn returns a person's dives of a day. A student reads their own; crew, managers
// and programs everybody's. Faults: not_found for an unknown person; missing_role for
// the dives of another person; invalid_request for a day before firstYear.
func (r *Reader) DivesOn(ctx context.Context, by actor.Actor, person uuid.UUID, on time.Time) (out Day,
	err error) {
	if !permission.Covers("getDivesOfDay", by, person) {
		return out, permission.Refusal("getDivesOfDay", by)
	}
	if on.Year() < firstYear {
		f := fault.Invalid("date",
			"Nobody dived with a centre's cylinders before {year}: name a later day.", firstYear)
		f.Findings[0].In = "path"
		return out, f
	}
	err = r.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []uuid.UUID
		var centre []gasplan.GasSettings
		pg.QueueRows(&b, &known, personSQL, pgx.StrictNamedArgs{"person": person})
		queueSettings(&b, &centre)
		// The last time zone on earth ends its day 12 h after UTC does.
		dives := QueueDives(&b, []uuid.UUID{person}, on.Add(36*time.Hour), tx.Now)
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
		out = dayOf(person, on, dives()[person], tableSettings(set))
		return nil
	})
	return out, err
}

// queueSettings adds the reading of the centre's settings for gas to a batch: no row
// where the centre has set none.
func queueSettings(b *pgx.Batch, into *[]gasplan.GasSettings) {
	q := b.Queue(`SELECT settings FROM gas_settings WHERE centre_id = app_centre()`)
	q.Query(func(rows pgx.Rows) (err error) {
		*into, err = pgx.CollectRows(rows, pgx.RowTo[gasplan.GasSettings])
		return err
	})
}

// tableSettings returns the settings of the no-stop tables, with the program's defaults
// for what the centre has not set.
func tableSettings(s gasplan.GasSettings) nostop.Settings {
	s = s.Or(gasplan.DefaultGasSettings())
	return nostop.Settings{Margin: nostop.Minutes(units.RoundUp(s.NoStopMargin.Reading().Minutes(), 1)),
		DivesADay: s.DivesADay, AscentsDay: s.AscentsADay}
}

// dayOf returns a person's day, judged from their dives up to its end.
func dayOf(person uuid.UUID, on time.Time, dives []Dive, set nostop.Settings) Day {
	dives = slices.DeleteFunc(slices.Clone(dives), func(d Dive) bool { return d.On.After(on) })
	plan := judge(dives, set)
	out := Day{PersonID: person, On: on, Settings: plan.Settings, Flying: plan.BeforeFlying(nostop.Cabin),
		GoingUp: plan.BeforeAltitudes()}
	for _, d := range dives {
		d.addRecordFindings()
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

// judge sorts dives by their times in and sets the Result of each by the tables.
func judge(dives []Dive, set nostop.Settings) nostop.Plan {
	slices.SortStableFunc(dives, func(a, b Dive) int { return a.Result.Dive.In.Compare(b.Result.Dive.In) })
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

// name returns the dive as messages name it.
func (d Dive) name() string { return fmt.Sprintf("%s, dive %d", d.SessionTitle, d.Number) }

// addRecordFindings adds the findings about how the dive was recorded.
func (d *Dive) addRecordFindings() {
	subject := finding.Subject{Type: "dive", ID: d.Result.Dive.Key}
	switch {
	case d.Unrecorded:
		f := DiveNotRecorded.Say("{session} is closed and nothing was recorded of dive {dive}; it counts as planned, {own} to {depth}.",
			finding.Session(d.SessionID.String(), d.SessionTitle), d.Number, d.Result.Own, d.Result.Dive.Depth).About(subject)
		f.Cures = []finding.Cure{{Code: "record_dive",
			Message: "Record the time in and the time out, or in the roll call that the person sat out."}}
		d.Result.Findings = append(d.Result.Findings, f)
	case d.Running:
		f := NoTimeOut.Say("No time out is recorded of dive {dive} of {session}; it counts until {until}.",
			d.Number, finding.Session(d.SessionID.String(), d.SessionTitle), finding.Clock(d.Result.Dive.Out,
				d.Result.Dive.Out.Location())).
			About(subject)
		f.Cures = []finding.Cure{{Code: "record_time_out",
			Message: "Record the time out and the greatest depth."}}
		d.Result.Findings = append(d.Result.Findings, f)
	}
}

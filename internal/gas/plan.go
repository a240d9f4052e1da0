package gas

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Dive is a group's planned dive.
type Dive struct {
	Depth      units.Depth    // deepest point; minimum gas is calculated from there
	Mean       units.Depth    // mean depth until the ascent; 0: the deepest point, the prudent value
	Planned    time.Duration  // from leaving the surface to the start of the ascent
	Least      time.Duration  // from time in to time out, ascent included, for the dive to count; 0: none
	NoStop     *time.Duration // no-stop limit of the group; nil: none was given, and none is judged
	SiteDepth  units.Depth    // maximum depth of the site; 0: not stated
	Visibility units.Reading  // zero, like the next two: not known
	Current    units.Reading  // a speed
	Water      units.Reading  // temperature of the water
}

// DepthLimit is one person's greatest depth, with the reason: their age, the number of their own
// training dive, their grade.
type DepthLimit struct {
	Max     units.Depth
	Because string // "aged 11", "training dive 2"
	Source  string
}

// Diver is one person of the group, whether student or crew.
type Diver struct {
	Subject     finding.Subject // the subject of the person's findings
	Name        string          // as messages use it
	Cylinder    Cylinder
	Mix         units.Fraction // oxygen; 0: Air
	Start       units.Reading  // pressure at the start, as read
	FilledAt    units.Reading  // temperature of the cylinder at that reading; zero: that of the water
	Gauge       units.Unit     // unit of the gauge; "": that of Start
	Rate        units.Rate     // to plan with (Learned.Planned); 0: NoviceRate
	Team        int            // gas is shared within a team; 0: with all of the group
	Told        units.Pressure // low-gas pressure told in a briefing, the least for this diver; 0: none
	Limits      []DepthLimit
	OxygenToday units.Fraction // of the daily oxygen limit, already used today
}

// PersonPlan is one person's part of a plan, in the order of the divers.
type PersonPlan struct {
	Start      units.Pressure // at the temperature of the water, never above the reading
	Contents   units.Volume   // at the start
	Rate       units.Rate     // the rate planned with
	SharesWith int            // index of the partner who breathes most
	Stressed   units.Rate     // of both together
	AscentGas  units.Volume   // minimum gas for both
	LowExact   units.Pressure // unrounded
	TurnExact  units.Pressure
	EndExact   units.Pressure // expected on the surface, after the planned time or the latest start of ascent
	Usable     units.Volume   // from Start to LowExact
	Out        units.Volume   // of Usable, to the turn
	Low        units.Reading  // as agreed: rounded up in the unit of the gauge
	Turn       units.Reading
	End        units.Reading // rounded down
	GasTime    time.Duration // until LowExact, rounded down to the minute
	TurnTime   time.Duration // until TurnExact, rounded down to the minute
	MaxDepth   units.Depth   // of the mix, unrounded
}

// Plan is the gas plan of a group: the inputs and the results.
type Plan struct {
	Dive     Dive
	Divers   []Diver
	Settings Settings

	People       []PersonPlan
	Limiting     int           // index of the person whose gas lasts least
	Controlling  int           // index of the person with the smallest share of gas before the turn
	TurnAfter    time.Duration // the earliest turn of the group, rounded down to the minute
	LatestAscent time.Duration // latest start of the ascent, by gas, turn and no-stop limit
	Findings     finding.List
}

// PlanGroup returns the gas plan of two or more divers who dive together, with findings. A plan
// without findings is still no more than advice. The error is about figures with which no plan can
// be worked out (*OutOfRange, one or several joined), never about the dive.
//
// Each low-gas pressure is for two people on that one cylinder from the deepest point: the diver,
// and the one with the highest rate among those with whom gas may be shared. The whole time until
// the ascent counts as spent at the mean depth.
func PlanGroup(d Dive, divers []Diver, s Settings) (Plan, error) {
	d.Mean = cmp.Or(d.Mean, d.Depth)
	if err := checkPlan(d, divers, s); err != nil {
		return Plan{}, err
	}
	p := Plan{Dive: d, Divers: divers, Settings: s, People: make([]PersonPlan, len(divers))}
	for i := range divers {
		p.People[i] = person(&d, divers, i, &s)
		if p.People[i].GasTime < p.People[p.Limiting].GasTime {
			p.Limiting = i
		}
		if p.People[i].Out < p.People[p.Controlling].Out {
			p.Controlling = i
		}
	}
	for i := range divers {
		out := p.People[i].Out
		if s.Rule.outAndBack() {
			out = p.People[p.Controlling].Out
		}
		turn(&p.People[i], &divers[i], out, &d, &s)
	}
	p.schedule()
	for i := range divers {
		expect(&p.People[i], &divers[i], min(d.Planned, p.LatestAscent), &d, &s)
	}
	p.Findings = p.judge()
	return p, nil
}

// schedule sets the group's turn and its latest start of the ascent.
func (p *Plan) schedule() {
	p.TurnAfter, p.LatestAscent = longest, longest
	for i := range p.People {
		p.TurnAfter = min(p.TurnAfter, p.People[i].TurnTime)
		p.LatestAscent = min(p.LatestAscent, p.People[i].GasTime)
	}
	if p.Dive.NoStop != nil {
		p.LatestAscent = min(p.LatestAscent, p.Dive.NoStop.Truncate(time.Minute))
	}
	if p.Settings.Rule.outAndBack() {
		p.TurnAfter = min(p.TurnAfter, p.LatestAscent/2).Truncate(time.Minute)
		p.LatestAscent = 2 * p.TurnAfter
		return
	}
	p.TurnAfter = min(p.TurnAfter, p.LatestAscent)
}

// checkPlan returns an error for each figure that is not possible.
func checkPlan(d Dive, divers []Diver, s Settings) error {
	errs := []error{s.check(), d.check()}
	if n := len(divers); n < 2 {
		errs = append(errs, &OutOfRange{What: "divers", Found: fmt.Sprint(n), Diver: -1,
			Limit: "two or more", Cure: "add the partner: gas is planned for two on one cylinder"})
	}
	for i := range divers {
		errs = append(errs, divers[i].check(i))
		if len(divers) > 1 && partner(divers, i) < 0 {
			errs = append(errs, &OutOfRange{
				What: "team of " + divers[i].name(i), Found: "nobody else in it", Diver: i,
				Limit: "two or more", Cure: "put them in a team, or in none so that they share with anybody"})
		}
	}
	return errors.Join(errs...)
}

func (d Dive) check() error {
	errs := []error{
		depthRange.check("depth", float64(d.Depth)), depthRange.check("mean depth", float64(d.Mean)),
		depthRange.check("maximum depth of the site", float64(d.SiteDepth)),
		diveMinutes.checkTime("planned time", d.Planned), otherMinutes.checkTime("least duration", d.Least),
	}
	if d.Mean > d.Depth {
		errs = append(errs, &OutOfRange{
			What: "mean depth", Found: depthRange.words(float64(d.Mean)), Diver: -1,
			Limit: "at most the depth, " + depthRange.words(float64(d.Depth)),
			Cure:  "correct one of the two"})
	}
	if d.NoStop != nil {
		errs = append(errs, otherMinutes.checkTime("no-stop limit", *d.NoStop))
	}
	for _, c := range []struct {
		what string
		span span
		r    units.Reading
	}{
		{"visibility", visibilityRange, d.Visibility}, {"current", currentRange, d.Current},
		{"water temperature", waterDegrees, d.Water},
	} {
		if !c.r.IsZero() {
			errs = append(errs, c.span.checkReading(c.what, c.r))
		}
	}
	return errors.Join(errs...)
}

// name returns the diver's name, or a number for one without.
func (d *Diver) name(i int) string {
	if d.Name != "" {
		return d.Name
	}
	return fmt.Sprintf("diver %d", i+1)
}

// check returns an error for each figure of the diver that is not possible.
func (d *Diver) check(i int) error {
	errs := [...]error{
		gaugePressure.checkReading("start pressure", d.Start),
		waterVolume.check("water volume of the cylinder", float64(d.Cylinder.water)),
		oxygenPercent.check("oxygen in the mix", d.mix().Percent()),
		breathingRate.check("breathing rate", float64(d.rate())),
		fullPercent.check("oxygen exposure today", d.OxygenToday.Percent()),
		d.checkGauge(), d.checkLimits(),
	}
	for _, err := range errs {
		if err == nil {
			continue
		}
		var out *OutOfRange
		if errors.As(err, &out) {
			out.Diver = i
			out.What += " of " + d.name(i)
		}
	}
	return errors.Join(errs[:]...)
}

// checkGauge checks the unit of the gauge and the temperature of the cylinder.
func (d *Diver) checkGauge() error {
	if d.Gauge != "" && d.Gauge.Dimension() != units.Pressures {
		return &OutOfRange{What: "gauge", Found: string(d.Gauge), Limit: "bar or psi", Cure: "choose one"}
	}
	if d.FilledAt.IsZero() {
		return nil
	}
	return fillDegrees.checkReading("temperature of the cylinder", d.FilledAt)
}

// checkLimits returns an error for the first depth limit that is not possible.
func (d *Diver) checkLimits() error {
	for _, l := range d.Limits {
		if err := depthRange.check("depth limit", float64(l.Max)); err != nil {
			return err
		}
	}
	return nil
}

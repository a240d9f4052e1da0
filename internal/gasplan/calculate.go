package gasplan

import (
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// Caution stands beside every plan.
const Caution = gas.Caution

// Calculate works out the plan of a group: gas by package gas, depth and time
// by package nostop. It is pure: the same input gives the same result. Findings
// say what forbids the plan and what asks for caution. The error is a Malformed
// fault that points at each figure with which nothing can be worked out; it is
// never about the dive.
func Calculate(in Input) (Result, error) {
	c, err := Compute(in)
	if err != nil {
		return Result{}, err
	}
	return c.result(), nil
}

// Explain returns the steps of the same calculation, in the order of the divers.
func Explain(in Input) ([]WorkedSteps, error) {
	c, err := Compute(in)
	if err != nil {
		return nil, err
	}
	out := make([]WorkedSteps, len(c.in.Divers))
	for i, v := range c.in.Divers {
		out[i] = WorkedSteps{Key: v.Key, Bar: steps(c.plan.Worked(i, units.UnitBar)),
			PSI:    steps(c.plan.Worked(i, units.UnitPSI)),
			NoStop: steps(c.tables[i].Worked())}
	}
	return out, nil
}

func steps[T ~struct{ Title, Text, Source string }](all []T) []Step {
	out := make([]Step, len(all))
	for i, s := range all {
		out[i] = Step(s)
	}
	return out
}

// Computed is a plan as the rule packages gave it.
type Computed struct {
	taken
	plan   gas.Plan
	tables []nostop.Result // of each diver, of this dive
	ascent nostop.Minutes  // a usual one, with its stop
	least  int             // index of the diver whom the tables give the least time, -1: nobody
}

// Input returns the filled input.
func (c *Computed) Input() Input { return c.in }

// Plan returns the plan as package gas made it.
func (c *Computed) Plan() *gas.Plan { return &c.plan }

// NoStopSettings returns the settings of the no-stop tables.
func (c *Computed) NoStopSettings() nostop.Settings { return c.noStop }

// UnderWater returns the time from leaving the surface to reaching it, in whole minutes:
// the planned time and a usual ascent with its stop.
func (c *Computed) UnderWater() time.Duration {
	return (wholeMinutes(c.dive.Planned) + c.ascent).Duration()
}

// Compute works out the plan of a group before its figures are rounded for a person.
func Compute(in Input) (Computed, error) {
	var s slips
	c := Computed{taken: take(in.Filled(), &s)}
	if err := s.err(); err != nil {
		return c, err
	}
	var err error
	if c.plan, err = gas.PlanGroup(c.dive, c.divers, c.settings); err != nil {
		if other := s.outOfRange(err, ""); other != nil {
			return c, other
		}
		return c, s.err()
	}
	c.lookUp()
	if c.least < 0 {
		return c, nil
	}
	limit := c.tables[c.least].Left.Less(c.ascent).At.Duration()
	c.dive.NoStop = &limit
	c.plan, err = gas.PlanGroup(c.dive, c.divers, c.settings)
	return c, err
}

// lookUp asks the tables about each diver. They count from leaving the surface
// to reaching it, so that a usual ascent is within their limit.
func (c *Computed) lookUp() {
	c.ascent, c.least = wholeMinutes(c.settings.Ascent.Normal().Time(c.dive.Depth)), -1
	under := wholeMinutes(c.dive.Planned) + c.ascent
	for i, v := range c.in.Divers {
		d := nostop.Dive{Key: v.Name, Depth: c.in.Dive.Depth.Reading(), In: c.starts,
			Out:     c.starts.Add(under.Duration()),
			Ascents: c.in.Dive.Ascents, Altitude: c.altitude}
		day := nostop.Judge(append(slices.Clone(c.before[i]), d), c.noStop)
		r := day.Results[len(day.Results)-1]
		c.tables = append(c.tables, r)
		if r.Row.Depth == 0 || r.Left.Unlimited {
			continue
		}
		if c.least < 0 || r.Left.At < c.tables[c.least].Left.At {
			c.least = i
		}
	}
}

// Findings returns what both rule books say. That the group is over its no-stop
// limit is left to package nostop, which says of each person why.
func (c *Computed) Findings() finding.List {
	out := finding.List{}
	for _, f := range c.plan.Findings {
		if f.Rule != gas.OverNoStop.ID {
			out = append(out, f)
		}
	}
	for i, r := range c.tables {
		for _, f := range r.Findings {
			f.Subjects = []finding.Subject{c.in.Divers[i].subject()}
			out = append(out, f)
		}
	}
	return out
}

func (c *Computed) result() Result {
	out := Result{Findings: c.Findings(), Assumptions: c.assumptions(),
		RuleBooks: []RuleBook{{"gas", gas.Version}, {"nostop", nostop.Source}}}
	for i := range c.in.Divers {
		out.People = append(out.People, c.person(i))
	}
	key := func(i int) string { return c.in.Divers[i].Key }
	out.Group = GroupResult{Limiting: key(c.plan.Limiting), Controlling: key(c.plan.Controlling),
		TurnAfter:    inMinutes(c.plan.TurnAfter),
		LatestAscent: inMinutes(c.plan.LatestAscent), AscentTime: inMinutes(c.ascent.Duration())}
	if c.least >= 0 {
		out.Group.NoStopLimit, out.Group.NoStopLimitedBy = limitOf(c.tables[c.least].Left), key(c.least)
	}
	return out
}

// person returns one person's part in the units that go with their gauge.
func (c *Computed) person(i int) PersonResult {
	v, p := c.in.Divers[i], c.plan.People[i]
	u := unitsWith(units.Unit(v.GaugeUnit))
	ph := gas.Physics{Law: c.settings.Law, Water: c.settings.Water}
	if !c.dive.Water.IsZero() {
		ph.Temperature = c.dive.Water.Temperature()
	}
	used := gas.Need(p.Rate, c.plan.Dive.Mean, min(c.dive.Planned, c.plan.LatestAscent), ph.Water)
	atAscent := c.divers[i].Cylinder.Pressure(p.Contents-used, ph)
	return PersonResult{
		Key: v.Key, ParticipantID: v.ParticipantID, Name: v.Name,
		Start: c.start(i), Contents: u.down(p.Contents.In(u.volume), u.litres, u.volume),
		Rate: u.rateOf(p.Rate), RateFrom: v.rateFrom(), SharesWith: c.in.Divers[p.SharesWith].Key,
		StressedRate: u.rateOf(p.Stressed),
		AscentGas:    u.up(p.AscentGas.In(u.volume), u.litres, u.volume),
		Low:          Of(p.Low), LowExact: u.up(p.LowExact.In(u.gauge), 0.01, u.gauge),
		Turn: Of(p.Turn), TurnExact: u.up(p.TurnExact.In(u.gauge), 0.01, u.gauge),
		Usable:     u.down(p.Usable.In(u.volume), u.litres, u.volume),
		BeforeTurn: u.down(p.Out.In(u.volume), u.litres, u.volume),
		AtAscent:   Of(gas.ReportedPressure(atAscent, u.gauge)), ExpectedEnd: Of(p.End),
		GasTime: inMinutes(p.GasTime), TurnTime: inMinutes(p.TurnTime),
		MixMaxDepth: u.down(p.MaxDepth.In(u.depth), u.metres, u.depth), NoStop: tabled(c.tables[i]),
	}
}

// rateFrom returns from what the person's breathing rate is known.
func (v DiverInput) rateFrom() string {
	switch {
	case v.RateFrom != "":
		return v.RateFrom
	case v.BreathingRate == nil:
		return NoviceRateFrom
	}
	return GivenRateFrom
}

// start returns the start pressure as read, or what is left of it in the water.
func (c *Computed) start(i int) Quantity {
	v, p := c.in.Divers[i], c.plan.People[i]
	if p.Start >= c.divers[i].Start.Pressure() && v.Start.Unit == v.GaugeUnit {
		return Of(v.Start.Reading())
	}
	u := unitsWith(units.Unit(v.GaugeUnit))
	return u.down(p.Start.In(u.gauge), 1, u.gauge)
}

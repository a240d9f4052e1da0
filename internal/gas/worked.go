package gas

import (
	"fmt"
	"time"

	"tankside/internal/units"
)

// Step is one line of a worked calculation.
type Step struct {
	Title  string // "Up to the stop"
	Text   string // complete in itself
	Source string // of the rule or the figure
}

// Worked returns the steps that lead to the plan of the person with index i, in
// bar, metres and litres for units.UnitBar, in psi, feet and cubic feet for
// units.UnitPSI, whichever gauge the person has. Numbers are written rounded
// and carried on unrounded. For any other index there are none.
func (p *Plan) Worked(i int, system units.Unit) []Step {
	if i < 0 || i >= len(p.People) {
		return nil
	}
	b := worksheetOf(p, i, system)
	steps := b.breathing(nil)
	steps = b.ascent(steps)
	steps = b.lowGas(steps)
	steps = b.usable(steps)
	steps = b.turn(steps)
	return b.end(steps)
}

// worksheet is a person's part of a plan, written in one system of units.
type worksheet struct {
	plan    *Plan
	diver   *Diver
	who     *PersonPlan
	partner string
	name    string
	ph      Physics
	gauge   units.Unit
	feet    bool
}

func worksheetOf(p *Plan, i int, system units.Unit) worksheet {
	who := &p.People[i]
	b := worksheet{plan: p, diver: &p.Divers[i], who: who, name: p.Divers[i].name(i), gauge: units.UnitBar,
		partner: p.Divers[who.SharesWith].name(who.SharesWith), ph: physics(&p.Dive, &p.Settings)}
	if system == units.UnitPSI {
		b.gauge, b.feet = units.UnitPSI, true
	}
	return b
}

// pick returns a number in the unit and with the decimals of the system.
func (b worksheet) pick(
	metric, imperial float64, decMetric, decImperial int, unitMetric, unitImperial string,
) string {
	if b.feet {
		return decimals(imperial, decImperial) + " " + unitImperial
	}
	return decimals(metric, decMetric) + " " + unitMetric
}

func (b worksheet) depth(d units.Depth) string {
	return b.pick(float64(d), d.In(units.UnitFoot), 1, 1, "m", "ft")
}

func (b worksheet) volume(v units.Volume) string {
	return b.pick(float64(v), v.In(units.UnitCuFt), 0, 2, "L", "cu ft")
}

func (b worksheet) rate(r units.Rate) string {
	return b.pick(float64(r), r.In(units.UnitCuFtMin), 1, 2, "L/min", "cu ft/min")
}

func (b worksheet) speed(s units.Speed) string {
	return b.pick(float64(s), s.In(units.UnitFtPerMin), 0, 0, "m/min", "ft/min")
}

func (b worksheet) pressure(p units.Pressure) string {
	return b.pick(float64(p), p.In(units.UnitPSI), 1, 0, "bar", "psi")
}

// temperature returns the temperature of the gas in words.
func (b worksheet) temperature() string {
	t := b.ph.Temperature
	return b.pick(t.Celsius(), t.Fahrenheit(), 0, 0, "°C", "°F")
}

// times returns the pressure at a depth as a multiple of that at the surface.
func (b worksheet) times(d units.Depth) string { return decimals(b.ph.Water.Times(d), 2) }

func min2(t time.Duration) string { return decimals(t.Minutes(), 2) + " min" }

const (
	navy74   = "US Navy Diving Manual, 7-4.1"
	navyEGS  = "US Navy Diving Manual, emergency gas supply example; exact mean pressures"
	practice = "common practice"
)

// breathing adds the rates of the two people on one cylinder.
func (b worksheet) breathing(steps []Step) []Step {
	s, other := &b.plan.Settings, b.plan.Divers[b.who.SharesWith].rate()
	deep := b.plan.Dive.Depth
	return append(steps,
		Step{"Pressure at the deepest point", fmt.Sprintf("%s ÷ %s + 1 = %s times the surface pressure.",
			b.depth(deep), b.depth(b.ph.Water.Deep), b.times(deep)),
			"depth to pressure: schoolroom rule, see the settings"},
		Step{"Two people, stressed, on one cylinder", fmt.Sprintf(
			"%s breathes %s and %s %s; under stress %s times that: %s × (%s + %s) = %s together.",
			b.name, b.rate(b.who.Rate), b.partner, b.rate(other), decimals(s.Stress, 2),
			decimals(s.Stress, 2), b.rate(b.who.Rate), b.rate(other), b.rate(b.who.Stressed)),
			"stress factor: a setting (default 1.5: our choice)"})
}

// ascent adds the minimum gas leg by leg.
func (b worksheet) ascent(steps []Step) []Step {
	titles := map[Stage]string{SortingOut: "Sorting out", ToTheStop: "Up to the stop",
		AtTheStop: "At the stop", ToSurface: "Up to the surface"}
	a := b.plan.Settings.Ascent
	for _, l := range a.Legs(b.plan.Dive.Depth) {
		if l.Time <= 0 {
			continue
		}
		text := fmt.Sprintf("%s at %s", min2(l.Time), b.depth(l.From))
		if l.From != l.To {
			text = fmt.Sprintf("%s ÷ %s = %s at %s on average",
				b.depth(l.From-l.To), b.speed(a.Speed), min2(l.Time), b.depth(l.Mean()))
		}
		steps = append(steps, Step{titles[l.Stage], fmt.Sprintf("%s: %s × %s × %s = %s.", text,
			decimals(l.Time.Minutes(), 2), b.rate(b.who.Stressed), b.times(l.Mean()),
			b.volume(l.Gas(b.who.Stressed, b.ph.Water))), navyEGS})
	}
	return append(steps,
		Step{"Ascent gas", fmt.Sprintf("All legs together: %s.", b.volume(b.who.AscentGas)), navyEGS})
}

// inCylinder returns a volume as a pressure of the cylinder, by the law in use, with its source.
func (b worksheet) inCylinder(v units.Volume) (string, string) {
	p := b.diver.Cylinder.Pressure(v, b.ph)
	ideal := b.ph
	ideal.Law = IdealGas
	text := fmt.Sprintf("%s ÷ %s of cylinder × %s = %s by the ideal law", b.volume(v),
		b.pick(float64(b.diver.Cylinder.water), b.diver.Cylinder.water.In(units.UnitCuFt), 1, 3, "L",
			"cu ft"),
		b.pick(float64(b.ph.Water.Surface), b.ph.Water.Surface.In(units.UnitPSI), 3, 1, "bar", "psi"),
		b.pressure(b.diver.Cylinder.Pressure(v, ideal)))
	if b.ph.Law == IdealGas {
		return text + ".", "ideal law"
	}
	z := Compressibility(p+b.ph.Water.Surface, b.ph.Temperature)
	return fmt.Sprintf("%s; air at that pressure and %s has Z = %s: %s.",
			text, b.temperature(), decimals(z, 3), b.pressure(p)),
		"equation of state of air, Lemmon et al. 2000"
}

// lowGas adds the steps from the ascent gas to the low-gas pressure.
func (b worksheet) lowGas(steps []Step) []Step {
	text, source := b.inCylinder(b.who.AscentGas)
	s := &b.plan.Settings
	p := b.diver.Cylinder.Pressure(b.who.AscentGas, b.ph)
	sum := fmt.Sprintf("%s + %s of reserve = %s",
		b.pressure(p), b.pressure(s.Reserve), b.pressure(p+s.Reserve))
	if b.who.LowExact > p+s.Reserve {
		sum += fmt.Sprintf(", but never below %s", b.pressure(s.Floor))
	}
	return append(steps, Step{"The same in this cylinder", text, source},
		Step{"Low-gas pressure",
			fmt.Sprintf("%s; rounded up: %s.", sum, CallPressure(b.who.LowExact, b.gauge)),
			practice + "; reserve and floor: settings"})
}

// usable adds the steps from the start to the gas that may be used.
func (b worksheet) usable(steps []Step) []Step {
	w, c := b.who, b.diver.Cylinder
	low := c.Contents(w.LowExact, b.ph)
	if read := b.diver.Start.Pressure(); w.Start < read {
		steps = append(steps, Step{"Start in the water", fmt.Sprintf("%s as filled become %s at %s.",
			b.pressure(read), b.pressure(w.Start), b.temperature()),
			"Gay-Lussac's law, " + b.ph.Law.String()})
	}
	return append(steps, Step{"Usable gas", fmt.Sprintf("%s hold %s, %s hold %s: usable %s.",
		b.pressure(w.Start), b.volume(w.Contents), b.pressure(w.LowExact), b.volume(low), b.volume(w.Usable)),
		"start minus the unrounded low-gas pressure, by the " + b.ph.Law.String()},
		Step{"Gas time",
			fmt.Sprintf("%s ÷ (%s × %s at %s) = %s; rounded down: %s.", b.volume(w.Usable), b.rate(w.Rate),
				b.times(b.plan.Dive.Mean), b.depth(b.plan.Dive.Mean),
				min2(GasTime(w.Usable, w.Rate, b.plan.Dive.Mean, b.ph.Water)), minutes(w.GasTime)), navy74})
}

// turn adds the step from the usable gas to the turn pressure.
func (b worksheet) turn(steps []Step) []Step {
	rule := b.plan.Settings.Rule
	text := fmt.Sprintf("All usable gas may be used: turn at the low-gas pressure, %s.",
		CallPressure(b.who.TurnExact, b.gauge))
	if rule.outAndBack() {
		who := b.plan.Divers[b.plan.Controlling].name(b.plan.Controlling)
		text = fmt.Sprintf(
			"Rule of %s: %s has the smallest share, %s. The same in this cylinder: %s down to %s; rounded "+
				"up: %s.",
			rule, who, b.volume(b.who.Out), b.pressure(b.who.Start), b.pressure(b.who.TurnExact),
			CallPressure(b.who.TurnExact, b.gauge))
	}
	return append(steps, Step{"Turn pressure", text, practice + "; the rule: a setting"})
}

// end adds the step to the pressure expected on the surface.
func (b worksheet) end(steps []Step) []Step {
	d, s, w := &b.plan.Dive, &b.plan.Settings, b.who
	t := min(d.Planned, b.plan.LatestAscent)
	bottom := Need(w.Rate, d.Mean, t, b.ph.Water)
	up := s.Ascent.Normal().MinimumGas(d.Depth, w.Rate, b.ph.Water)
	return append(steps, Step{"Expected end",
		fmt.Sprintf("%s until the ascent: %s; a normal ascent alone: %s. Left: %s; rounded down: %s.",
			minutes(t), b.volume(bottom), b.volume(up), b.pressure(w.EndExact),
			ReportedPressure(w.EndExact, b.gauge)), navy74},
		Step{"Mind", Caution, ours})
}

// Caution is shown with every plan.
const Caution = "A plan is advice, not a promise. Local law, the training organisation and the instructor " +
	"in charge come first; look at the gauge, and go up when it says so."

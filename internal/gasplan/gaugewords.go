package gasplan

import (
	"fmt"

	"tankside/internal/units"
)

// gaugeWords writes the figures of a dive and its settings for those who read them: in
// metres and bar where all gauges show bar, in feet and psi where all show psi, as
// stated with the other unit in brackets where the gauges differ. Our choice.
type gaugeWords struct{ bar, psi bool }

// gaugeWords returns how the divers of a plan read its figures.
func (c *Computed) gaugeWords() (out gaugeWords) {
	for _, v := range c.in.Divers {
		if units.Unit(v.GaugeUnit) == units.UnitPSI {
			out.psi = true
		} else {
			out.bar = true
		}
	}
	return out
}

// turned is how a figure is read in the other unit.
type turned struct {
	unit units.Unit
	step float64
	down bool // rounded down; else up
}

// others has the other unit of each that the figures of a plan are stated in. A
// figure is rounded to the safe side: depths and pressures up, the speed of the
// ascent down. The steps are our choice: a low-gas pressure is agreed in steps of
// 100 psi or 5 bar, so that one of 10 psi or 1 bar shows none that could not be.
var others = map[units.Unit]turned{
	units.UnitMetre:    {units.UnitFoot, 1, false},
	units.UnitFoot:     {units.UnitMetre, 0.1, false},
	units.UnitBar:      {units.UnitPSI, 10, false},
	units.UnitPSI:      {units.UnitBar, 1, false},
	units.UnitMPerSec:  {units.UnitFtPerMin, 1, true},
	units.UnitMPerMin:  {units.UnitFtPerMin, 1, true},
	units.UnitFtPerMin: {units.UnitMPerMin, 0.1, true},
}

// of returns the words for a figure.
func (w gaugeWords) of(q Quantity) string {
	stated := q.Reading()
	to, ok := others[stated.Unit]
	if !ok {
		return stated.String()
	}
	imperial := stated.Unit == units.UnitFoot || stated.Unit == units.UnitPSI ||
		stated.Unit == units.UnitFtPerMin
	switch other := to.read(stated); {
	case w.bar && w.psi:
		return fmt.Sprintf("%s (%s)", stated, other)
	case w.psi != imperial:
		return other.String()
	}
	return stated.String()
}

// read returns a figure in the other unit.
func (t turned) read(r units.Reading) units.Reading {
	var x float64
	switch r.Unit.Dimension() {
	case units.Depths:
		x = r.Depth().In(t.unit)
	case units.Pressures:
		x = r.Pressure().In(t.unit)
	default:
		x = r.Speed().In(t.unit)
	}
	if t.down {
		return units.Read(units.RoundDown(x, t.step), t.unit)
	}
	return units.Read(units.RoundUp(x, t.step), t.unit)
}

// water returns how deep water of a kind adds one pressure of the surface. Fresh
// water is reckoned in feet, salt water in metres; the other is rounded down, the
// safe side, since a shallower depth means more gas.
func (w gaugeWords) water(kind string) string {
	depth := map[string]map[gaugeWords]string{
		"salt":  {{bar: true}: "10 m", {psi: true}: "32.8 ft", {bar: true, psi: true}: "10 m (32.8 ft)"},
		"fresh": {{bar: true}: "10.36 m", {psi: true}: "34 ft", {bar: true, psi: true}: "34 ft (10.36 m)"},
	}[kind][w]
	return map[string]string{"salt": "Salt", "fresh": "Fresh"}[kind] + " water: " + depth +
		" add one pressure of the surface."
}

// temperature returns the words for the temperature that gas is taken at where that
// of the water is not known: 20 °C, which are 68 °F.
func (w gaugeWords) temperature() string {
	return map[gaugeWords]string{{bar: true}: "20 °C", {psi: true}: "68 °F",
		{bar: true, psi: true}: "20 °C (68 °F)"}[w]
}

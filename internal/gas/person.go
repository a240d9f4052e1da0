package gas

import (
	"time"

	"tankside/internal/units"
)

func (d *Diver) mix() units.Fraction {
	if d.Mix == 0 {
		return Air
	}
	return d.Mix
}

func (d *Diver) rate() units.Rate {
	if d.Rate == 0 {
		return NoviceRate
	}
	return d.Rate
}

// gauge returns the unit in which the diver's pressures are agreed.
func (d *Diver) gauge() units.Unit {
	if d.Gauge == "" {
		return d.Start.Unit
	}
	return d.Gauge
}

// physics returns what the plan assumes of gas and water.
func physics(d *Dive, s *Settings) Physics {
	ph := Physics{Law: s.Law, Water: s.Water}
	if !d.Water.IsZero() {
		ph.Temperature = d.Water.Temperature()
	}
	return ph.filled()
}

// partner returns the index of the diver with the highest rate among those who may share gas with
// diver i, -1 for none.
func partner(divers []Diver, i int) int {
	most := -1
	for j := range divers {
		if j == i || divers[i].Team != divers[j].Team && divers[i].Team != 0 && divers[j].Team != 0 {
			continue
		}
		if most < 0 || divers[j].rate() > divers[most].rate() {
			most = j
		}
	}
	return most
}

// startOf returns the pressure at the start once the cylinder has the temperature of the water.
// Water warmer than the filling is not counted on.
func startOf(v *Diver, ph Physics) units.Pressure {
	read := v.Start.Pressure()
	if v.FilledAt.IsZero() {
		return read
	}
	return min(read, v.Cylinder.AtTemperature(read, v.FilledAt.Temperature(), ph.Temperature, ph))
}

// person returns the part of the plan that does not depend on the others' gas: low-gas pressure,
// usable gas and how long it lasts, and the person's own share before the turn.
func person(d *Dive, divers []Diver, i int, s *Settings) PersonPlan {
	v, ph := &divers[i], physics(d, s)
	var p PersonPlan
	p.Start = startOf(v, ph)
	p.Contents = v.Cylinder.Contents(p.Start, ph)
	p.Rate = v.rate()
	p.SharesWith = partner(divers, i)
	p.Stressed = units.Rate(s.Stress) * (p.Rate + divers[p.SharesWith].rate())
	p.AscentGas = s.Ascent.MinimumGas(d.Depth, p.Stressed, ph.Water)
	p.LowExact = max(LowGas(v.Cylinder, p.AscentGas, s.Reserve, s.Floor, ph), v.Told)
	p.Usable = Usable(v.Cylinder, p.Start, p.LowExact, ph)
	p.GasTime = wholeMinutes(GasTime(p.Usable, p.Rate, d.Mean, ph.Water))
	p.Out = Share(p.Usable, s.Rule)
	p.Low = CallPressure(p.LowExact, v.gauge())
	p.MaxDepth = MaxDepth(v.mix(), s.OxygenLimit, ph.Water)
	return p
}

// turn sets the turn of a person who may breathe the volume out before it.
func turn(p *PersonPlan, v *Diver, out units.Volume, d *Dive, s *Settings) {
	ph := physics(d, s)
	p.Out = out
	p.TurnExact = p.LowExact
	if s.Rule.outAndBack() {
		p.TurnExact = TurnPressure(v.Cylinder, p.Start, p.LowExact, out, ph)
	}
	p.TurnTime = wholeMinutes(GasTime(out, p.Rate, d.Mean, ph.Water))
	p.Turn = CallPressure(p.TurnExact, v.gauge())
}

// wholeMinutes rounds a gas time down to the minute; 100 ns absorb the rounding of binary fractions
// in a whole minute.
func wholeMinutes(t time.Duration) time.Duration {
	return (t + 100*time.Nanosecond).Truncate(time.Minute)
}

// expect sets the pressure after a time in the water and a normal ascent.
func expect(p *PersonPlan, v *Diver, t time.Duration, d *Dive, s *Settings) {
	ph := physics(d, s)
	used := Need(p.Rate, d.Mean, t, ph.Water) + s.Ascent.Normal().MinimumGas(d.Depth, p.Rate, ph.Water)
	p.EndExact = v.Cylinder.Pressure(p.Contents-used, ph)
	p.End = ReportedPressure(p.EndExact, v.gauge())
}

package gas

import (
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// The fall that a gauge must show before it is doubted. Our choice: 10 bar or 100 psi is two steps
// of reading, which is hard to overlook.
const (
	barFall = 10 * units.Bar
	psiFall = 100 * units.PSI
)

// MostRate is the highest breathing rate that is accepted: see breathingRate.
const MostRate = 100 * units.LitrePerMinute

// doubtLitres is the cylinder assumed where none is known: 15 L, the largest that is usual for one
// diver (common practice), so that the least fall is expected.
const doubtLitres units.Volume = 15

// Rules of gauges with impossible readings. They hold with a plan and without.
var (
	GaugeStuck = finding.Rule{ID: "gas.gauge_stuck", Severity: finding.Caution, Source: ours,
		Title: "A gauge that does not fall",
		Text: "A reading that is no lower than earlier ones, over minutes in which the diver should have " +
			"breathed more than 10 bar or 100 psi, is doubted: the gauge may be stuck, closed off or " +
			"misread. The least fall is expected: at the learned or the novice's rate, at the surface " +
			"where the depth is not known, from a cylinder of 15 L where none is known."}
	GaugeRose = finding.Rule{ID: "gas.gauge_rose", Severity: finding.Caution, Source: ours,
		Title: "A gauge that rises",
		Text: "A reading more than 5 bar or 50 psi above the one before it, with the same cylinder, is " +
			"doubted: one of the two was misread, or is another diver's."}
)

// ExpectedBreathing is a diver's expected breathing: the rate, the cylinder and the water.
type ExpectedBreathing struct {
	Rate     units.Rate // learned, or NoviceRate; 0: NoviceRate
	Cylinder Cylinder   // the zero Cylinder: not known
	Water    Water      // the zero Water: sea water
}

// Doubt is a reading that an earlier one contradicts.
type Doubt struct {
	Look, Before int            // indexes of the two readings
	Rose         bool           // above the one before, by more than a reading error
	Fall         units.Pressure // the least fall to be expected, where it did not rise
	AtSurface    bool           // a depth was not known, and the surface was taken for it
	AnyCylinder  bool           // no cylinder was known
}

// Doubts returns the readings of one dive that indicate a stuck or misread gauge, in the order of
// time. They are readings that rose, and readings that end a row without any fall where more than
// 10 bar or 100 psi was to be expected. Looks come in any order; other rules doubt figures that are
// out of range.
func Doubts(looks []GaugeReading, b ExpectedBreathing) (out []Doubt) {
	order, err := inTime(looks)
	if err != nil {
		return nil
	}
	if b.Rate == 0 {
		b.Rate = NoviceRate
	}
	var row Doubt // since the last fall: the first look of the row, and the fall to be expected
	row.Before = order[0]
	for j := 1; j < len(order); j++ {
		last, this := order[j-1], order[j]
		before, now := looks[last].Reading.Pressure(), looks[this].Reading.Pressure()
		switch {
		case now > before+readingError(looks[this].Reading)+tolerance:
			out = append(out, Doubt{Look: this, Before: last, Rose: true})
			row = Doubt{Before: this}
			continue
		case now < before-tolerance:
			row = Doubt{Before: this}
			continue
		}
		b.breathe(&row, looks[last], looks[this])
		if row.Fall > fallOf(looks[this].Reading)+tolerance {
			row.Look = this
			out = append(out, row)
		}
	}
	return out
}

// breathe adds the least fall to be expected between two looks.
func (b ExpectedBreathing) breathe(row *Doubt, from, to GaugeReading) {
	litres := b.Cylinder.Water()
	if litres == 0 {
		litres, row.AnyCylinder = doubtLitres, true
	}
	depth := func(k GaugeReading) units.Depth {
		if k.Depth == nil {
			row.AtSurface = true
			return 0
		}
		return *k.Depth
	}
	w := b.Water.filled()
	mean := (depth(from) + depth(to)) / 2
	breathed := float64(Need(b.Rate, mean, to.After-from.After, w))
	row.Fall += units.Pressure(breathed / float64(litres) * float64(w.Surface))
}

func fallOf(r units.Reading) units.Pressure {
	if r.Unit == units.UnitPSI {
		return psiFall
	}
	return barFall
}

// Finding returns the finding on a doubted reading of a person.
func (d Doubt) Finding(looks []GaugeReading, person finding.Named, who ...finding.Subject) finding.Finding {
	now, before := looks[d.Look], looks[d.Before]
	minutes := units.Read((now.After - before.After).Round(time.Second/10).Minutes(), units.UnitMinute)
	var f finding.Finding
	if d.Rose {
		f = GaugeRose.Say(
			"The gauge of {person} shows {reading}, more than the {before} of {minutes} before. Read it again: one of the two was misread.",
			person, now.Reading, before.Reading, minutes)
	} else {
		unit := now.Reading.Unit
		f = GaugeStuck.Say(
			"The gauge of {person} shows {reading}, and {before} {minutes} before; at least {fall} less was to be expected{taking}. Read it again: it may be stuck.",
			person, now.Reading, before.Reading, minutes,
			units.Read(units.RoundDown(d.Fall.In(unit), 1), unit), d.taking())
	}
	f.Limit, f.Found = finding.Quantity(before.Reading), finding.Quantity(now.Reading)
	f.Cures = []finding.Cure{{Code: "check_reading",
		Message: "Look at the gauge together, at once; end the dive where it does not move."},
		{Code: "void_wrong", Message: "Void the entry that is wrong and record it again."}}
	f.Subjects = who
	return f
}

// taking returns what was assumed for what is not known.
func (d Doubt) taking() string {
	switch {
	case d.AtSurface && d.AnyCylinder:
		return " even at the surface and from 15 L, since neither depth nor cylinder is known"
	case d.AtSurface:
		return " even at the surface, since the depth is not known"
	case d.AnyCylinder:
		return " even from 15 L, since the cylinder is not known"
	}
	return ""
}

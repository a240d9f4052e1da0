package gas

import (
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// When a gauge is doubted. Our choice: a fall of 10 bar or 100 psi is two steps of
// reading, which nobody overlooks.
const (
	barFall = 10 * units.Bar
	psiFall = 100 * units.PSI
)

// MostRate is the highest breathing rate that is believed: see breathingRate.
const MostRate = 100 * units.LitrePerMinute

// doubtLitres is the cylinder taken where none is known: 15 L, the largest that is
// usual for one diver (common practice), so that the least fall is expected.
const doubtLitres units.Volume = 15

// Rules of gauges that show what cannot be. They hold with a plan and without.
var (
	GaugeStuck = finding.Rule{ID: "gas.gauge_stuck", Severity: finding.Caution, Source: ours,
		Title: "A gauge that does not fall", Text: "A reading that is no lower than earlier ones, over minutes in which the diver should have breathed more than 10 bar or 100 psi, is doubted: the gauge may be stuck, closed off or misread. The least fall is expected: at the learned or the novice's rate, at the surface where the depth is not known, from a cylinder of 15 L where none is known."}
	GaugeRose = finding.Rule{ID: "gas.gauge_rose", Severity: finding.Caution, Source: ours,
		Title: "A gauge that rises", Text: "A reading more than 5 bar or 50 psi above the one before it, with the same cylinder, is doubted: one of the two was misread, or is another diver's."}
)

// Breath is what a diver is expected to breathe, and from what.
type Breath struct {
	Rate     units.Rate // learned, or NoviceRate; 0: NoviceRate
	Cylinder Cylinder   // the zero Cylinder: not known
	Water    Water      // the zero Water: sea water
}

// Doubt is a reading that one before it contradicts.
type Doubt struct {
	Look, Before int            // indexes of both
	Rose         bool           // above the one before, beyond what reading a gauge explains
	Fall         units.Pressure // the least that was to be expected, where it did not rise
	AtSurface    bool           // a depth was not known: the surface stands for it
	AnyCylinder  bool           // no cylinder was known
}

// Doubts returns the readings of one dive that speak of a stuck or misread gauge, in
// the order of time: those that rose, and those that end a row of readings without
// any fall where the least one to be expected is beyond 10 bar or 100 psi. Looks come
// in any order; figures that are out of range are doubted by other rules.
func Doubts(looks []Look, b Breath) (out []Doubt) {
	order, err := inTime(looks)
	if err != nil {
		return nil
	}
	if b.Rate == 0 {
		b.Rate = NoviceRate
	}
	var row Doubt // since the last fall: the first look of the row, and what was to be breathed
	row.Before = order[0]
	for j := 1; j < len(order); j++ {
		last, this := order[j-1], order[j]
		before, now := looks[last].Reading.Pressure(), looks[this].Reading.Pressure()
		switch {
		case now > before+readingError(looks[this].Reading)+nudge:
			out = append(out, Doubt{Look: this, Before: last, Rose: true})
			row = Doubt{Before: this}
			continue
		case now < before-nudge:
			row = Doubt{Before: this}
			continue
		}
		b.breathe(&row, looks[last], looks[this])
		if row.Fall > fallOf(looks[this].Reading)+nudge {
			row.Look = this
			out = append(out, row)
		}
	}
	return out
}

// breathe adds the least fall to be expected between two looks.
func (b Breath) breathe(row *Doubt, from, to Look) {
	litres := b.Cylinder.Water()
	if litres == 0 {
		litres, row.AnyCylinder = doubtLitres, true
	}
	depth := func(k Look) units.Depth {
		if k.Depth == nil {
			row.AtSurface = true
			return 0
		}
		return *k.Depth
	}
	w := b.Water.filled()
	mean := (depth(from) + depth(to)) / 2
	row.Fall += units.Pressure(float64(Need(b.Rate, mean, to.After-from.After, w)) / float64(litres) * float64(w.Surface))
}

func fallOf(r units.Reading) units.Pressure {
	if r.Unit == units.UnitPSI {
		return psiFall
	}
	return barFall
}

// Finding says what is doubted about a reading of somebody.
func (d Doubt) Finding(looks []Look, name string, who ...finding.Subject) finding.Finding {
	now, before := looks[d.Look], looks[d.Before]
	minutes := units.Read((now.After - before.After).Round(time.Second/10).Minutes(), units.UnitMinute)
	var f finding.Finding
	if d.Rose {
		f = GaugeRose.Say("The gauge of {person} shows {reading}, more than the {before} of {minutes} before. Read it again: one of the two was misread.",
			name, now.Reading, before.Reading, minutes)
	} else {
		unit := now.Reading.Unit
		f = GaugeStuck.Say("The gauge of {person} shows {reading}, and {before} {minutes} before; at least {fall} less was to be expected{taking}. Read it again: it may be stuck.",
			name, now.Reading, before.Reading, minutes, units.Read(units.RoundDown(d.Fall.In(unit), 1), unit), d.taking())
	}
	f.Limit, f.Found = finding.Quantity(before.Reading), finding.Quantity(now.Reading)
	f.Cures = []finding.Cure{{Code: "check_reading", Message: "Look at the gauge together, at once; end the dive where it does not move."},
		{Code: "void_wrong", Message: "Void the entry that is wrong and record it anew."}}
	f.Subjects = who
	return f
}

// taking says what was taken for what is not known.
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

package sheet

import (
	"fmt"
	"math"
	"strings"

	"tankside/internal/gasplan"
	"tankside/internal/units"
)

// The size of a drawing, in its own units, and the edges of its plot. Those for a
// crowd are lower.
const (
	figureWidth, figureHeight, crowdHeight = 360.0, 190.0, 150.0
	left, right, top, beneath              = 48.0, 352.0, 12.0, 30.0
)

// figure is the drawing of one person's dive: depth over time, and above it the
// expected pressure.
type figure struct {
	Name, Says    string
	Unit          string // the unit of the pressures
	Depth         string // a path, closed along the surface
	DepthAt       mark   // the label of the depth
	Line          string // the points of the expected pressure
	Dots          []mark
	Levels        []level // turn and low-gas pressure
	TurnAt        *mark   // when the group has to turn; nil where it may surface anywhere or does so before
	Pressures     []mark
	Times         []mark
	Left, Right   float64
	Top, Under    float64
	Width, Height float64
}

// mark is a text at a point.
type mark struct {
	X, Y float64
	Text string
}

// level is a pressure that is drawn as a horizontal line.
type level struct {
	Y, TextY float64
	Text     string
	Low      bool
}

// scale converts times, depths and pressures into coordinates of the drawing.
type scale struct{ minutes, metres, pressure, under float64 }

func (s scale) x(t float64) float64 { return tenth(left + (right-left)*t/s.minutes) }

func (s scale) y(p float64) float64 { return tenth(s.under - (s.under-top)*p/s.pressure) }

// deep returns the y of a depth. It leaves room under the depth for low pressures.
func (s scale) deep(m float64) float64 { return tenth(top + 0.8*(s.under-top)*m/s.metres) }

func tenth(x float64) float64 { return math.Round(10*x) / 10 }

// figure returns the drawing of one person's plan. The time until the ascent is drawn
// at the planned depth, as the calculation takes it.
func (p Plan) figure(in gasplan.Input, r gasplan.PersonResult) figure {
	d, g := in.Dive, p.Result.Group
	bottom := math.Min(minutes(d.PlannedTime), minutes(g.LatestAscent))
	up := ascentOf(in)
	end := bottom + up.total()
	unit := units.Unit(r.Start.Unit)
	height := figureHeight
	if len(p.Result.People) >= crowd {
		height = crowdHeight
	}
	s := scale{minutes: math.Max(1, end), metres: math.Max(1, metres(d.Depth)),
		pressure: fullScale(max(r.Start.Value, r.Turn.Value, r.Low.Value), unit), under: height - beneath}
	f := figure{Name: r.Name, Unit: r.Start.Unit, Left: left, Right: right, Top: top, Under: s.under,
		Width: figureWidth, Height: height,
		Depth: depthPath(s, metres(d.Depth), bottom, up),
		DepthAt: mark{tenth(s.x(bottom) - 3), tenth(s.deep(metres(d.Depth)) + 12),
			d.Depth.Reading().String()}}
	f.Says = fmt.Sprintf("%s starts with %s, turns at %s, is low on gas at %s, is expected to start the "+
		"ascent after %s min with %s and to end with %s.",
		r.Name, r.Start.Reading(), r.Turn.Reading(), r.Low.Reading(), units.DecimalOf(bottom),
		r.AtAscent.Reading(), r.ExpectedEnd.Reading())
	points := []mark{{s.x(0), s.y(r.Start.Value), r.Start.Reading().Value.String()},
		{s.x(bottom), s.y(r.AtAscent.Value), ""},
		{s.x(end), s.y(r.ExpectedEnd.Value), r.ExpectedEnd.Reading().Value.String()}}
	for _, pt := range points {
		f.Line += fmt.Sprintf("%g,%g ", pt.X, pt.Y)
	}
	f.Line = strings.TrimSpace(f.Line)
	f.Dots = points
	f.Levels = levels(s, r)
	if in.Settings.TurnRule != allUsable && minutes(g.TurnAfter) <= bottom {
		f.TurnAt = &mark{X: s.x(minutes(g.TurnAfter)), Text: g.TurnAfter.Reading().String()}
	}
	f.Pressures, f.Times = pressureTicks(s, unit), timeTicks(s, end)
	return f
}

// levels returns the lines of the turn and the low-gas pressure, one where they are
// equal, with labels that do not overlap.
func levels(s scale, r gasplan.PersonResult) []level {
	low := level{Y: s.y(r.Low.Value), Text: "low " + r.Low.Reading().Value.String(), Low: true}
	low.TextY = tenth(low.Y + 11)
	if low.TextY > s.under-1 {
		low.TextY = tenth(low.Y - 3)
	}
	if r.Turn == r.Low {
		low.Text = "turn, low " + r.Low.Reading().Value.String()
		return []level{low}
	}
	turn := level{Y: s.y(r.Turn.Value), Text: "turn " + r.Turn.Reading().Value.String()}
	turn.TextY = tenth(turn.Y - 3)
	return []level{turn, low}
}

// legs are the times of a usual ascent, in minutes.
type legs struct{ climb, stop, last, depth float64 }

func (l legs) total() float64 { return l.climb + l.stop + l.last }

// ascentOf returns the usual ascent of a plan: without a problem to solve.
func ascentOf(in gasplan.Input) legs {
	deep, stop, speed := metres(in.Dive.Depth), metres(*in.Settings.StopDepth),
		float64(in.Settings.AscentSpeed.Reading().Speed())
	wait := minutes(*in.Settings.StopTime)
	if wait <= 0 {
		return legs{climb: deep / speed}
	}
	stop = math.Min(stop, deep)
	return legs{climb: (deep - stop) / speed, stop: wait, last: stop / speed, depth: stop}
}

func depthPath(s scale, deep, bottom float64, up legs) string {
	t := bottom + up.climb
	return fmt.Sprintf("M%g %g V%g H%g L%g %g H%g L%g %g Z", s.x(0), s.deep(0), s.deep(deep), s.x(bottom),
		s.x(t), s.deep(up.depth), s.x(t+up.stop), s.x(t+up.stop+up.last), s.deep(0))
}

// fullScale returns the top of the scale for its highest pressure.
func fullScale(most float64, u units.Unit) float64 {
	step := pressureStep(u)
	return math.Max(4, math.Ceil(most*1.04/step)) * step
}

func pressureStep(u units.Unit) float64 {
	if u == units.UnitPSI {
		return 500
	}
	return 50
}

// pressureTicks returns the labels of every second step of psi and every step of bar.
func pressureTicks(s scale, u units.Unit) []mark {
	step := pressureStep(u)
	if u == units.UnitPSI {
		step *= 2
	}
	var out []mark
	for p := 0.0; p <= s.pressure; p += step {
		out = append(out, mark{left, s.y(p), fmt.Sprintf("%g", p)})
	}
	return out
}

// timeTicks returns the labels of about six round times.
func timeTicks(s scale, end float64) []mark {
	step := 60.0
	for _, x := range []float64{1, 2, 5, 10, 15, 20, 30} {
		if end/x <= 7 {
			step = x
			break
		}
	}
	var out []mark
	for t := 0.0; t <= end; t += step {
		out = append(out, mark{s.x(t), s.under, fmt.Sprintf("%g", t)})
	}
	return out
}

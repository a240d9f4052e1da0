package briefings

import (
	"context"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Shown is a reading as hands show it by a convention.
type Shown struct {
	Convention signal.Convention // in the unit that is shown
	Reading    units.Reading     // rounded to its step
	Gestures   signal.Sequence
}

// show returns a reading as hands show it: rounded to the convention's step, up for a
// turn or low-gas pressure and down for any other. The findings forbid what hands cannot
// show.
func show(c signal.Convention, r units.Reading, up bool) (Shown, finding.List) {
	if up && r.Unit.Dimension() == units.Pressures {
		r = c.Up(r)
	}
	seq, found := c.Encode(r)
	if found.Forbids() {
		return Shown{}, found
	}
	return Shown{Convention: c, Reading: c.Down(r), Gestures: seq}, found
}

// Encode returns a reading as hands show it by a convention, for a diver whose gauge
// shows a unit, "" for the convention's own. up rounds up, as for a turn or low-gas
// pressure. Faults: not_found; refused where hands cannot show it.
func (s *Service) Encode(ctx context.Context, by actor.Actor, code string, r units.Reading, gauge units.Unit,
	up bool) (Shown, error) {
	c, err := s.Convention(ctx, by, code)
	if err != nil {
		return Shown{}, err
	}
	if gauge != "" {
		c.Convention = c.In(gauge)
	}
	out, found := show(c.Convention, r, up)
	if found.Forbids() {
		return Shown{}, fault.RefusedBy(found)
	}
	return out, nil
}

// Decode returns every way to understand gestures by a convention, with a caution where
// there are several. Faults: not_found; refused for gestures without a meaning.
func (s *Service) Decode(ctx context.Context, by actor.Actor, code string, seq signal.Sequence,
	gauge units.Unit) ([]signal.Interpretation, finding.List, error) {
	c, err := s.Convention(ctx, by, code)
	if err != nil {
		return nil, nil, err
	}
	if gauge != "" {
		c.Convention = c.In(gauge)
	}
	said, found := c.Decode(seq)
	if found.Forbids() {
		return nil, nil, fault.RefusedBy(found)
	}
	return said, found, nil
}

// Differences returns the differences of a convention from one that is known. Fault:
// not_found.
func (s *Service) Differences(ctx context.Context, by actor.Actor, here, known string) ([]signal.Difference,
	error) {
	a, err := s.Convention(ctx, by, here)
	if err != nil {
		return nil, err
	}
	b, err := s.Convention(ctx, by, known)
	if err != nil {
		return nil, err
	}
	return a.Differences(b.Convention), nil
}

// samples are numbers by which conventions can be told apart: a usual reading, one that
// takes both hands, half a tank, and a low one, in steps of 100 psi or 10 bar.
var samples = []float64{17, 26, 10, 5}

// Samples returns a few numbers as hands show them by a convention, none where it can
// show no number.
func Samples(c signal.Convention) []Shown {
	var out []Shown
	for _, n := range samples {
		r := units.Read(n*c.Step().Value.Float(), c.Unit)
		if shown, found := show(c, r, false); !found.Forbids() {
			out = append(out, shown)
		}
	}
	return out
}

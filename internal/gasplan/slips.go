package gasplan

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// NotPossible is the rule behind figures with which nothing can be worked out.
var NotPossible = finding.Rule{ID: "planning.not_possible", Severity: finding.Forbidden, Source: "our choice",
	Title: "A figure that is not possible", Text: "A plan is worked out from figures that can be: a slip of the pen or of the unit is pointed out and not planned with."}

// slips gathers what is wrong with an input, each with where it stands.
type slips struct{ found finding.List }

// note points out one slip: what would cure it, and what is wrong by a template and its parts.
func (s *slips) note(pointer, cure, template string, parts ...any) *finding.Finding {
	f := NotPossible.Say(template, parts...)
	f.Message += " " + cure
	f.In, f.Pointer = "body", pointer
	f.Cures = []finding.Cure{{Code: "correct_figure", Message: cure}}
	s.found = append(s.found, f)
	return &s.found[len(s.found)-1]
}

// err returns the fault of all slips, nil for none.
func (s *slips) err() error {
	switch len(s.found) {
	case 0:
		return nil
	case 1:
		return fault.New(fault.Malformed, "invalid_request", s.found[0].Message).With(s.found...)
	}
	return fault.New(fault.Malformed, "invalid_request",
		"Nothing can be worked out from some of the figures; each finding points at one and says what would cure it.").With(s.found...)
}

// of insists that a quantity measures what it should, and gives its reading;
// the zero Reading for none.
func (s *slips) of(pointer string, q *Quantity, want units.Dimension) units.Reading {
	if q == nil {
		return units.Reading{}
	}
	unit := units.Unit(q.Unit)
	if math.IsNaN(q.Value) || math.Abs(q.Value) > 1e6 || unit.Dimension() != want {
		s.note(pointer, "Correct the figure or its unit.", "{value} {unit} is no {dimension}.", q.Value, q.Unit, want)
		return units.Reading{}
	}
	return q.Reading()
}

// outOfRange takes in the errors of package gas; it gives back any other.
func (s *slips) outOfRange(err error, pointer string) error {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range many.Unwrap() {
			if other := s.outOfRange(e, pointer); other != nil {
				return other
			}
		}
		return nil
	}
	var o *gas.OutOfRange
	if !errors.As(err, &o) {
		return err
	}
	f := s.note(cmpPointer(pointer, o), sentence(o.Cure), "The {what} is {found}; it must be {limit}.", o.What, o.Found,
		o.Limit)
	f.Limit, f.Found = finding.Words(o.Limit), finding.Words(o.Found)
	return nil
}

// sentence returns a cure of package gas as a sentence of its own.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// places are where in an input a figure stands, by how package gas calls it;
// the first that fits counts. Those of a diver stand below the diver.
var places = []struct{ what, pointer string }{
	{"mean depth", "/dive/mean_depth"}, {"maximum depth of the site", "/dive/site_max_depth"},
	{"planned time", "/dive/planned_time"}, {"least duration", "/dive/least_time"}, {"no-stop limit", "/dive"},
	{"visibility", "/dive/visibility"}, {"current", "/dive/current"},
	{"water temperature", "/dive/water_temperature"},
	{"divers", "/divers"}, {"stress factor", "/settings/stress"}, {"time to sort out", "/settings/sort_out"},
	{"ascent rate", "/settings/ascent_speed"}, {"depth of the safety stop", "/settings/stop_depth"},
	{"length of the safety stop", "/settings/stop_time"}, {"reserve", "/settings/reserve"},
	{"floor in confined water", "/confined_floor"}, {"floor", "/settings/floor"},
	{"limit of the oxygen", "/settings/oxygen_limit"}, {"law or turn rule", "/settings"},
	{"start pressure", "/start"}, {"water volume", "/cylinder"},
	{"working pressure", "/cylinder/working_pressure"},
	{"rated pressure", "/cylinder/rated_pressure"}, {"oxygen in the mix", "/oxygen"},
	{"breathing rate", "/breathing_rate"},
	{"oxygen exposure", "/oxygen_today"}, {"gauge", "/gauge_unit"},
	{"temperature of the cylinder", "/filled_at"},
	{"depth limit", "/depth_limits"}, {"team", "/team"}, {"depth", "/dive/depth"},
}

// cmpPointer returns the pointer to what an error of package gas is about;
// within is that of the part that was being read.
func cmpPointer(within string, o *gas.OutOfRange) string {
	if o.Diver >= 0 {
		within = fmt.Sprintf("/divers/%d", o.Diver)
	}
	for _, p := range places {
		if strings.HasPrefix(o.What, p.what) {
			return within + p.pointer
		}
	}
	return within
}

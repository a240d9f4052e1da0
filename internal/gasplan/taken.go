package gasplan

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// taken is a filled input as the rule packages take it.
type taken struct {
	in       Input
	dive     gas.Dive
	divers   []gas.Diver
	settings gas.Settings
	noStop   nostop.Settings
	altitude units.Reading
	starts   time.Time
	before   [][]nostop.Dive // of each diver
}

// take reads a filled input; what is wrong with it is in the slips.
func take(in Input, s *slips) taken {
	t := taken{in: in}
	t.takeDive(s)
	t.takeSettings(s)
	keys := map[string]bool{}
	for i, v := range in.Divers {
		at := fmt.Sprintf("/divers/%d", i)
		if keys[v.Key] {
			s.note(at+"/key", "Give each a key of their own.", `The key "{key}" names two divers.`, v.Key)
		}
		keys[v.Key] = true
		t.divers = append(t.divers, t.takeDiver(v, at, s))
		t.before = append(t.before, t.takeEarlier(v, at, s))
	}
	return t
}

// dayless is the time at which a dive starts of which no time is known: any
// will do where nobody has dived before.
var dayless = time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)

func (t *taken) takeDive(s *slips) {
	d := t.in.Dive
	depth := func(pointer string, q *Quantity) units.Depth {
		if r := s.of(pointer, q, units.Depths); !r.IsZero() {
			return r.Depth()
		}
		return 0
	}
	t.dive = gas.Dive{
		Depth: depth("/dive/depth", &d.Depth), Mean: depth("/dive/mean_depth", d.MeanDepth),
		SiteDepth:  depth("/dive/site_max_depth", d.SiteMaxDepth),
		Planned:    s.minutes("/dive/planned_time", &d.PlannedTime),
		Least:      s.minutes("/dive/least_time", d.LeastTime),
		Visibility: s.of("/dive/visibility", d.Visibility, units.Depths),
		Current:    s.of("/dive/current", d.Current, units.Speeds),
		Water:      s.of("/dive/water_temperature", d.WaterTemperature, units.Temperatures),
	}
	t.altitude, t.starts = s.of("/dive/altitude", d.Altitude, units.Depths), dayless
	if d.StartsAt != nil {
		t.starts = *d.StartsAt
	}
	s.oneOf("/dive/water", d.Water, "salt", "fresh")
}

// minutes reads a time, 0 for none.
func (s *slips) minutes(pointer string, q *Quantity) time.Duration {
	if r := s.of(pointer, q, units.Times); !r.IsZero() {
		return time.Duration(math.Round(r.Minutes()*60)) * time.Second
	}
	return 0
}

// pressure reads a pressure, 0 for none.
func (s *slips) pressure(pointer string, q *Quantity) units.Pressure {
	if r := s.of(pointer, q, units.Pressures); !r.IsZero() {
		return r.Pressure()
	}
	return 0
}

// oneOf insists on one of the known words.
func (s *slips) oneOf(pointer, word string, known ...string) {
	if !slices.Contains(known, word) {
		s.note(pointer, fmt.Sprintf("Take one of %q.", known), `"{word}" is not known here.`, word)
	}
}

func (t *taken) takeSettings(s *slips) {
	g := t.in.Settings
	s.oneOf("/settings/law", g.Law, "real", "ideal")
	s.oneOf("/settings/turn_rule", g.TurnRule, "all_usable", "halves", "thirds")
	t.settings = gas.Settings{
		Law: lawOf(g.Law), Water: gas.SeaWater, Stress: g.Stress,
		Rule:    map[string]gas.TurnRule{"halves": gas.Halves, "thirds": gas.Thirds}[g.TurnRule],
		Reserve: s.pressure("/settings/reserve", g.Reserve), Floor: s.pressure("/settings/floor", g.Floor),
		OxygenLimit: s.pressure("/settings/oxygen_limit", g.OxygenLimit),
		Ascent: gas.Ascent{SortOut: s.minutes("/settings/sort_out", g.SortOut),
			StopFor: s.minutes("/settings/stop_time", g.StopTime)},
	}
	if t.in.Dive.Water == "fresh" {
		t.settings.Water = gas.FreshWater
	}
	if r := s.of("/settings/ascent_speed", g.AscentSpeed, units.Speeds); !r.IsZero() {
		t.settings.Ascent.Speed = r.Speed()
	}
	if r := s.of("/settings/stop_depth", g.StopDepth, units.Depths); !r.IsZero() {
		t.settings.Ascent.Stop = r.Depth()
	}
	margin := s.minutes("/settings/no_stop_margin", g.NoStopMargin)
	t.noStop = nostop.Settings{Margin: wholeMinutes(margin), DivesADay: g.DivesADay, AscentsDay: g.AscentsADay}
}

// wholeMinutes returns a time as whole minutes, one begun counting whole.
func wholeMinutes(d time.Duration) nostop.Minutes {
	return nostop.Minutes((d + time.Minute - 1) / time.Minute)
}

func lawOf(word string) gas.GasLaw {
	if word == "ideal" {
		return gas.IdealGas
	}
	return gas.RealGas
}

// beyondRating points out a start that the cylinder cannot hold, where its
// working pressure is known.
func (s *slips) beyondRating(working units.Pressure, start units.Reading, pointer string) {
	if working == 0 || start.IsZero() || start.Pressure() <= gas.MostOfRating*working {
		return
	}
	in := func(p units.Pressure) units.Reading { return units.Read(p.In(start.Unit), start.Unit) }
	f := s.note(pointer, "Read the gauge again and check the unit, or correct the cylinder.",
		"{found} is above {limit}, one and a half times the cylinder's working pressure of {rating}.", start,
		in(gas.MostOfRating*working), in(working))
	f.Limit, f.Found = finding.Quantity(in(gas.MostOfRating*working)), finding.Quantity(start)
}

func (t *taken) takeDiver(v DiverInput, at string, s *slips) gas.Diver {
	d := gas.Diver{
		Subject: v.subject(), Name: v.Name, Cylinder: v.Cylinder.take(at, s),
		Start:    s.of(at+"/start", &v.Start, units.Pressures),
		FilledAt: s.of(at+"/filled_at", v.FilledAt, units.Temperatures), Gauge: units.Unit(v.GaugeUnit),
		Team: t.teamOf(v.Team),
		Told: s.pressure(at+"/told", v.Told),
	}
	s.beyondRating(d.Cylinder.Working(), d.Start, at+"/start")
	s.oneOf(at+"/gauge_unit", v.GaugeUnit, string(units.UnitBar), string(units.UnitPSI))
	if r := s.of(at+"/oxygen", v.Oxygen, units.Fractions); !r.IsZero() {
		d.Mix = r.Fraction()
	}
	if r := s.of(at+"/oxygen_today", v.OxygenToday, units.Fractions); !r.IsZero() {
		d.OxygenToday = r.Fraction()
	}
	if r := s.of(at+"/breathing_rate", v.BreathingRate, units.Rates); !r.IsZero() {
		d.Rate = r.Rate()
		if d.Rate == 0 { // which would mean that nothing is known
			s.note(at+"/breathing_rate", "Correct the figure, or leave it out where it is not known.",
				"Nobody breathes nothing.")
		}
	}
	for i, l := range v.DepthLimits {
		if r := s.of(fmt.Sprintf("%s/depth_limits/%d/depth", at, i), &l.Depth, units.Depths); !r.IsZero() {
			d.Limits = append(d.Limits, gas.DepthLimit{Max: r.Depth(), Because: l.Because, Source: l.Source})
		}
	}
	return d
}

// subject returns whom findings are about: the participant where there is one.
func (v DiverInput) subject() finding.Subject {
	if v.ParticipantID != nil {
		return finding.Subject{Type: "participant", ID: v.ParticipantID.String()}
	}
	return finding.Subject{Type: "diver", ID: v.Key}
}

// teamOf numbers the teams, from 1; 0 is none.
func (t *taken) teamOf(name string) int {
	if name == "" {
		return 0
	}
	return 1 + slices.IndexFunc(t.in.Divers, func(v DiverInput) bool { return v.Team == name })
}

// take makes the cylinder, of one of the two forms.
func (v CylinderInput) take(at string, s *slips) gas.Cylinder {
	at += "/cylinder"
	rated := v.RatedCapacity != nil || v.RatedPressure != nil || v.RatedBy != ""
	sized := v.WaterVolume != nil || v.WorkingPressure != nil
	if rated == sized || rated && (v.RatedCapacity == nil || v.RatedPressure == nil) || sized &&
		v.WaterVolume == nil {
		s.note(at, "Give water_volume, with working_pressure where it is known, or rated_capacity and rated_pressure.",
			"A cylinder is given by its water volume, or by its rated capacity at its rated pressure.")
		return gas.Cylinder{}
	}
	if v.Count > 2 {
		s.note(at+"/count", "Give 1, or 2 for twins.", "{count} cylinders are not planned with.", v.Count)
	}
	before := len(s.found)
	var made gas.Cylinder
	var err error
	if rated {
		s.oneOf(at+"/rated_by", v.RatedBy, "ideal", "real")
		capacity := s.of(at+"/rated_capacity", v.RatedCapacity, units.Volumes)
		if at := s.pressure(at+"/rated_pressure", v.RatedPressure); len(s.found) == before {
			made, err = gas.Rated(capacity.Volume(), at, lawOf(v.RatedBy))
		}
	} else {
		volume := s.of(at+"/water_volume", v.WaterVolume, units.Volumes)
		if working := s.pressure(at+"/working_pressure", v.WorkingPressure); len(s.found) == before {
			made, err = gas.Sized(volume.Volume(), working)
		}
	}
	if err != nil {
		_ = s.outOfRange(err, at[:len(at)-len("/cylinder")]) // Sized and Rated give no other
	}
	if v.Count == 2 {
		made = made.Twin()
	}
	return made
}

// takeEarlier reads the dives that somebody has made before this one.
func (t *taken) takeEarlier(v DiverInput, at string, s *slips) []nostop.Dive {
	if len(v.EarlierDives) > 0 && t.in.Dive.StartsAt == nil {
		s.note("/dive/starts_at", "Say when it starts.",
			"{diver} has dived before, and when this dive starts is not said.", v.Name)
		return nil
	}
	var out []nostop.Dive
	for i, e := range v.EarlierDives {
		at := fmt.Sprintf("%s/earlier_dives/%d", at, i)
		depth := s.of(at+"/depth", &e.Depth, units.Depths)
		switch {
		case !depth.IsZero() && depth.Value <= 0:
			s.note(at+"/depth", "Give its greatest depth.", "A dive has a depth of more than nothing.")
		case !e.OutAt.After(e.InAt) || e.OutAt.Sub(e.InAt) > 24*time.Hour:
			s.note(at+"/out_at", "Correct one of its times.", "A dive ends after it begins, and at most 24 h later.")
		case e.OutAt.After(t.starts):
			s.note(at+"/out_at", "Correct its times, or when this dive starts.",
				"An earlier dive has ended before this one starts.")
		}
		out = append(out, nostop.Dive{Depth: depth, In: e.InAt.In(t.starts.Location()),
			Out:     e.OutAt.In(t.starts.Location()),
			Ascents: max(1, e.Ascents), Altitude: s.of(at+"/altitude", e.Altitude, units.Depths), Done: true})
	}
	return out
}

package planview

import (
	"cmp"
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/diveday"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/units"
	"tankside/internal/when"
)

// Input returns a requested plan with what the session, its site and the centre add to
// it. What divers did before is added by WithPast.
func (s Session) Input(a gasplan.PlanRequest) gasplan.Input {
	in := gasplan.Input{Dive: a.Dive, Settings: a.Settings}.At(s.Settings)
	d := &in.Dive
	if s.Site.SiteWater != nil {
		d.Water = cmp.Or(d.Water, *s.Site.SiteWater)
	}
	site := quantity(s.Site.MaxDepth)
	d.SiteMaxDepth = cmp.Or(d.SiteMaxDepth, site)
	if site != nil && gasplan.Less(*site, *d.SiteMaxDepth, units.Depths) {
		d.SiteMaxDepth = site // a plan may lower the site's limit and never raise it
	}
	d.Altitude = cmp.Or(quantity(s.Site.Altitude), d.Altitude)
	reported := gasplan.DiveInput{}
	s.SetReported(&reported)
	d.Visibility = cmp.Or(d.Visibility, reported.Visibility)
	d.Current = cmp.Or(d.Current, reported.Current)
	d.WaterTemperature = cmp.Or(d.WaterTemperature, reported.WaterTemperature)
	d.LeastTime = cmp.Or(d.LeastTime, s.LeastTime(a.DiveID))
	for _, v := range a.Divers {
		p := s.Divers[*v.ParticipantID]
		v.Key, v.Name = p.ID.String(), p.Name
		v.GaugeUnit = cmp.Or(v.GaugeUnit, p.GaugeUnit)
		v.DepthLimits = append(s.depthLimits(p, a.DiveID), v.DepthLimits...)
		in.Divers = append(in.Divers, v)
	}
	return in
}

// SetReported replaces the expected conditions of a dive by the reported ones, as far as
// there are any.
func (s Session) SetReported(d *gasplan.DiveInput) {
	w := s.Water
	d.Visibility = cmp.Or(quantity(w.Visibility), d.Visibility)
	d.Current = cmp.Or(quantity(w.Current), d.Current)
	d.WaterTemperature = cmp.Or(quantity(w.Temperature), d.WaterTemperature)
}

// WithPast returns the input of a plan with what its divers did before: their breathing
// rates, and the dives from which they still have nitrogen in the sequence of their
// sessions. It is one round trip. c is the plan computed from the input without them.
func (s Session) WithPast(ctx context.Context, tx *pg.Tx, in gasplan.Input, a gasplan.PlanRequest,
	c gasplan.Computed) (gasplan.Input, error) {
	var persons []uuid.UUID
	for _, v := range a.Divers {
		persons = append(persons, s.Divers[*v.ParticipantID].PersonID)
	}
	var b pgx.Batch
	rates := diveday.QueueRates(&b, persons, tx.Now)
	dives := diveday.QueueDives(&b, persons, s.EndsAt, tx.Now)
	if err := tx.Send(ctx, &b); err != nil {
		return in, err
	}
	known, sequences := rates(), dives()
	next := diveday.NextDive{SessionID: s.ID, DiveID: a.DiveID, Depth: in.Dive.Depth.Reading(),
		Under: c.UnderWater()}
	past := make([]diveday.NoStop, len(persons))
	for i, p := range persons {
		past[i] = next.After(p, sequences[p], c.NoStopSettings())
		if in.Divers[i].BreathingRate == nil {
			setRate(&in.Divers[i], known[p])
		}
	}
	if in.Dive.StartsAt == nil {
		in.Dive.StartsAt = s.start(past)
	}
	for i := range past {
		in.Divers[i].EarlierDives = past[i].EarlierDives(*in.Dive.StartsAt)
	}
	return in, nil
}

// setRate sets the breathing rate that a diver is planned with, unless it is the
// novice's, and what it was learned from.
func setRate(v *gasplan.DiverInput, r diveday.BreathingRate) {
	v.RateFrom = r.From()
	if r.Novice() {
		return
	}
	rate := units.RoundUp(float64(r.Learned.Planned), 0.01)
	v.BreathingRate = new(gasplan.Of(units.Read(rate, units.UnitLPerMin)))
}

// start returns the latest start among the divers of the last dive that the plan is for,
// with the session's offset from UTC: the diver who starts last has the least time left.
func (s Session) start(past []diveday.NoStop) *time.Time {
	starts := s.StartsAt
	for _, n := range past {
		if len(n.Dives) > 0 {
			if in := n.Dives[len(n.Dives)-1].Result.Dive.In; in.After(starts) {
				starts = in
			}
		}
	}
	zone, err := when.Zone(s.TimeZone, "")
	if err != nil {
		zone = time.UTC // a zone that was known once and is no more
	}
	_, offset := starts.In(zone).Zone()
	return new(starts.In(time.FixedZone("", offset)))
}

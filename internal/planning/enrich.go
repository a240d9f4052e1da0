package planning

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/diveday"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/units"
	"tankside/internal/when"
)

// enriched is a plan as it was asked for, with everything that is known of the
// session and its people, and what came out.
type enriched struct {
	Input    gasplan.Input
	Result   gasplan.Result
	Findings finding.List // of the rule books and of the session
}

// enrich puts together what a plan is worked out from and works it out: one
// round trip for the session, one for what people did before.
func (s *Service) enrich(ctx context.Context, tx *pg.Tx, session, plan uuid.UUID,
	a gasplan.PlanRequest) (out enriched, err error) {
	st, err := s.readPlanStage(ctx, tx, session)
	if err != nil {
		return out, err
	}
	return s.enrichOn(ctx, tx, st, plan, a)
}

// enrichOn is enrich on a stage that was read.
func (s *Service) enrichOn(ctx context.Context, tx *pg.Tx, st planStage, plan uuid.UUID,
	a gasplan.PlanRequest) (out enriched, err error) {
	if err := st.takes(a); err != nil {
		return out, err
	}
	in := st.input(a)
	// What is slipped in the pen is pointed out before anything is looked up.
	c, err := gasplan.Compute(in)
	if err != nil {
		return out, err
	}
	if in, err = st.withPast(ctx, tx, in, a, c); err != nil {
		return out, err
	}
	if out.Result, err = gasplan.Calculate(in); err != nil {
		return out, err
	}
	out.Input = in
	out.Findings = about(plan, append(slices.Clone(out.Result.Findings), st.judge(a)...))
	return out, nil
}

// takes refuses an ask that names what is not of the session.
func (st planStage) takes(a gasplan.PlanRequest) error {
	if st.Kind == ratio.Theory {
		return fault.WrongState("session", "not in water", "Gas is planned for water sessions.")
	}
	if st.State != dayview.Planned && st.State != dayview.UnderWay {
		return fault.WrongState("session", string(st.State),
			"Gas is planned for a session that is planned or under way.")
	}
	if a.DiveID != nil && !slices.ContainsFunc(st.Dives,
		func(d dayview.Dive) bool { return d.ID == *a.DiveID }) {
		return fault.UnknownReference("dive of this session", "/dive_id")
	}
	if a.GroupID != nil {
		if _, there := st.Group(*a.GroupID); !there {
			return fault.UnknownReference("group of this session", "/group_id")
		}
	}
	for i, v := range a.Divers {
		if _, ok := st.parts[*v.ParticipantID]; !ok {
			return fault.UnknownReference("participant of this session",
				fmt.Sprintf("/divers/%d/participant_id", i))
		}
	}
	return nil
}

// input fills in what the session and the centre say.
func (st planStage) input(a gasplan.PlanRequest) gasplan.Input {
	s := st.Site
	in := gasplan.Input{Dive: a.Dive, Settings: a.Settings}.At(st.settings)
	d := &in.Dive
	d.Water = cmp.Or(d.Water, given(s.SiteWater, ""))
	d.SiteMaxDepth = cmp.Or(d.SiteMaxDepth, known(s.MaxDepth))
	if site := known(s.MaxDepth); site != nil &&
		gasplan.Less(*site, *d.SiteMaxDepth, units.Depths) {
		d.SiteMaxDepth = site // a plan may lower the site's limit and never raise it
	}
	if known := known(s.Altitude); known != nil {
		d.Altitude = known
	}
	reported := gasplan.DiveInput{}
	st.report(&reported)
	d.Visibility = cmp.Or(d.Visibility, reported.Visibility)
	d.Current = cmp.Or(d.Current, reported.Current)
	d.WaterTemperature = cmp.Or(d.WaterTemperature, reported.WaterTemperature)
	d.LeastTime = cmp.Or(d.LeastTime, st.leastTime(a.DiveID))
	for _, v := range a.Divers {
		p := st.parts[*v.ParticipantID]
		v.Key, v.Name = p.ID.String(), p.Name
		v.GaugeUnit = cmp.Or(v.GaugeUnit, p.GaugeUnit)
		v.DepthLimits = append(st.limits(p, a.DiveID), v.DepthLimits...)
		in.Divers = append(in.Divers, v)
	}
	return in
}

// report puts the conditions as they were reported in the place of those that
// were expected.
func (st planStage) report(d *gasplan.DiveInput) {
	s := st.Water
	put(&d.Visibility, known(s.Visibility))
	put(&d.Current, known(s.Current))
	put(&d.WaterTemperature, known(s.Temperature))
}

// withPast fills in what people did before: their breathing rates and the dives
// from which they still have nitrogen, in the real sequence of their sessions.
func (st planStage) withPast(ctx context.Context, tx *pg.Tx, in gasplan.Input, a gasplan.PlanRequest,
	c gasplan.Computed) (gasplan.Input, error) {
	var persons []uuid.UUID
	for _, v := range a.Divers {
		persons = append(persons, st.parts[*v.ParticipantID].PersonID)
	}
	var b pgx.Batch
	rates := diveday.QueueRates(&b, persons, tx.Now)
	dives := diveday.QueueDives(&b, persons, st.EndsAt, tx.Now)
	if err := tx.Send(ctx, &b); err != nil {
		return in, err
	}
	known, sequences := rates(), dives()
	next := diveday.NextDive{SessionID: st.ID, DiveID: a.DiveID, Depth: in.Dive.Depth.Reading(), Under: c.UnderWater()}
	past := make([]diveday.NoStop, len(persons))
	for i, p := range persons {
		past[i] = next.After(p, sequences[p], c.NoStopSettings())
		if in.Divers[i].BreathingRate != nil {
			continue
		}
		r := known[p]
		in.Divers[i].RateFrom = r.From()
		if !r.Novice() {
			in.Divers[i].BreathingRate = new(gasplan.Of(units.Read(units.RoundUp(float64(r.Learned.Planned),
				0.01), units.UnitLPerMin)))
		}
	}
	if in.Dive.StartsAt == nil {
		in.Dive.StartsAt = st.startOf(past)
	}
	for i := range past {
		in.Divers[i].EarlierDives = past[i].EarlierDives(*in.Dive.StartsAt)
	}
	return in, nil
}

// startOf returns when the last of the dives that the plan is for starts, for
// whoever starts last: their way through the day leaves the least time.
func (st planStage) startOf(past []diveday.NoStop) *time.Time {
	starts := st.StartsAt
	for _, n := range past {
		if len(n.Dives) > 0 {
			if in := n.Dives[len(n.Dives)-1].Result.Dive.In; in.After(starts) {
				starts = in
			}
		}
	}
	zone, err := when.Zone(st.TimeZone, "")
	if err != nil {
		zone = time.UTC // a zone that was known once and is no more
	}
	_, offset := starts.In(zone).Zone()
	return new(starts.In(time.FixedZone("", offset)))
}

// about makes the plan the subject of findings that are about nobody in
// particular, so that their cautions can be accepted for it.
func about(plan uuid.UUID, found finding.List) finding.List {
	for i, f := range found {
		if len(f.Subjects) == 0 {
			found[i].Subjects = []finding.Subject{{Type: "gas_plan", ID: plan.String()}}
		}
	}
	return found
}

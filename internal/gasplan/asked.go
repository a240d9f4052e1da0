package gasplan

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"tankside/internal/fault"
)

// PlanRequest is a plan of a session as somebody asks for it: what is known of the
// session and its people is left out and put in by the service. It is stored as
// JSON, so that a plan can be judged again and replanned.
type PlanRequest struct {
	DiveID   *uuid.UUID   `json:"dive_id,omitempty"`  // nil: for every dive of the session
	GroupID  *uuid.UUID   `json:"group_id,omitempty"` // nil: not of one group alone
	Dive     DiveInput    `json:"dive"`
	Divers   []DiverInput `json:"divers"` // each with its participant
	Settings GasSettings  `json:"settings"`
}

// Change is what a replan does otherwise than the plan before it.
type Change struct {
	Reason   string
	Dive     DiveChange
	Divers   []DiverChange
	LeaveOut []uuid.UUID // participants who do not dive after all
	Settings GasSettings
}

// DiveChange has what is to be otherwise of the dive; nil stays as it was.
type DiveChange struct {
	Depth, MeanDepth, PlannedTime, LeastTime, Visibility, Current, WaterTemperature *Quantity
	StartsAt                                                                        *time.Time
	Ascents                                                                         *int
}

// DiverChange has what is to be otherwise of one participant; nil stays as it
// was. Who is not in the plan yet needs a cylinder and a start.
type DiverChange struct {
	ParticipantID uuid.UUID
	Cylinder      *CylinderInput
	Oxygen        *Quantity
	Start         *Quantity
	FilledAt      *Quantity
	GaugeUnit     string
	BreathingRate *Quantity
	Team          *string // "": shares with anybody
	DepthLimits   *[]DepthLimit
	OxygenToday   *Quantity
}

// With returns the ask with a change. Faults: Malformed for somebody new without
// a cylinder or a start, Refused for somebody left out who was not in it.
func (a PlanRequest) With(c Change) (PlanRequest, error) {
	d := &a.Dive
	d.MeanDepth = cmp.Or(c.Dive.MeanDepth, d.MeanDepth)
	d.LeastTime = cmp.Or(c.Dive.LeastTime, d.LeastTime)
	d.Visibility = cmp.Or(c.Dive.Visibility, d.Visibility)
	d.Current = cmp.Or(c.Dive.Current, d.Current)
	d.WaterTemperature = cmp.Or(c.Dive.WaterTemperature, d.WaterTemperature)
	d.StartsAt = cmp.Or(c.Dive.StartsAt, d.StartsAt)
	d.Depth, d.PlannedTime = *cmp.Or(c.Dive.Depth, &d.Depth), *cmp.Or(c.Dive.PlannedTime, &d.PlannedTime)
	d.Ascents = *cmp.Or(c.Dive.Ascents, &d.Ascents)
	a.Settings = c.Settings.Or(a.Settings)
	for i, id := range c.LeaveOut {
		if !slices.ContainsFunc(a.Divers, func(v DiverInput) bool { return *v.ParticipantID == id }) {
			return a, fault.UnknownReference("participant of the plan before", fmt.Sprintf("/leave_out/%d", i))
		}
	}
	a.Divers = slices.DeleteFunc(slices.Clone(a.Divers),
		func(v DiverInput) bool { return slices.Contains(c.LeaveOut, *v.ParticipantID) })
	for i, x := range c.Divers {
		at := slices.IndexFunc(a.Divers, func(v DiverInput) bool { return *v.ParticipantID == x.ParticipantID })
		if at < 0 {
			if x.Cylinder == nil || x.Start == nil {
				return a, fault.Invalid(fmt.Sprintf("/divers/%d", i),
					"Who was not in the plan before needs a cylinder and a start.")
			}
			at = len(a.Divers)
			a.Divers = append(a.Divers, DiverInput{ParticipantID: &x.ParticipantID})
		}
		x.on(&a.Divers[at])
	}
	return a, nil
}

var inDivers = regexp.MustCompile(`/divers/[0-9]+`)

// Pointed makes the pointers of a fault in the ask that a change led to those of
// the change.
func (c Change) Pointed(err error, a PlanRequest) error {
	var f *fault.Fault
	if !errors.As(err, &f) {
		return err
	}
	here := func(text string) string {
		return inDivers.ReplaceAllStringFunc(text, func(at string) string {
			n, _ := strconv.Atoi(at[len("/divers/"):])
			i := slices.IndexFunc(c.Divers,
				func(x DiverChange) bool { return x.ParticipantID == *a.Divers[n].ParticipantID })
			if i < 0 {
				return at // in the plan before, and no longer possible
			}
			return fmt.Sprintf("/divers/%d", i)
		})
	}
	own := *f
	own.Message, own.Findings = here(f.Message), slices.Clone(f.Findings)
	for i, x := range own.Findings {
		own.Findings[i].Pointer, own.Findings[i].Message = here(x.Pointer), here(x.Message)
	}
	return &own
}

// on applies the change to a diver.
func (x DiverChange) on(v *DiverInput) {
	v.Cylinder, v.Start = *cmp.Or(x.Cylinder, &v.Cylinder), *cmp.Or(x.Start, &v.Start)
	v.GaugeUnit, v.Team = cmp.Or(x.GaugeUnit, v.GaugeUnit), *cmp.Or(x.Team, &v.Team)
	v.DepthLimits = *cmp.Or(x.DepthLimits, &v.DepthLimits)
	v.Oxygen = cmp.Or(x.Oxygen, v.Oxygen)
	v.FilledAt = cmp.Or(x.FilledAt, v.FilledAt)
	v.BreathingRate = cmp.Or(x.BreathingRate, v.BreathingRate)
	v.OxygenToday = cmp.Or(x.OxygenToday, v.OxygenToday)
}

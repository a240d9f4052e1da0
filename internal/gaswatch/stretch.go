package gaswatch

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/signal"
	"tankside/internal/waterview"
)

// stretch is one participant's time on one dive, with the checks that belong to
// it. Checks of somebody whose times were not recorded make a stretch of their
// own.
type stretch struct {
	DiveID *uuid.UUID
	Logged *waterview.Dive // nil: no time in was recorded
	Checks []waterview.GasCheck
}

// start is when the stretch began, as far as is known.
func (s stretch) start() time.Time {
	if s.Logged != nil {
		return s.Logged.InAt
	}
	return s.Checks[0].WitnessedAt
}

// holds reports whether a moment lies within the times of the stretch.
func (s stretch) holds(at time.Time) bool {
	l := s.Logged
	return l != nil && !at.Before(l.InAt) && (l.OutAt == nil || !at.After(*l.OutAt))
}

// stay returns the times of a stretch that has a time in, as lateness is judged.
func (s stretch) stay(every time.Duration) signal.TimeInWater {
	l := s.Logged
	stay := signal.TimeInWater{InID: l.StartID.String(), In: l.InAt, Out: l.OutAt, Looks: looks(s.Checks),
		Every: every}
	if l.EndID != nil {
		stay.OutID = l.EndID.String()
	}
	return stay
}

// looks returns checks as they count towards the marks and the interval.
func looks(checks []waterview.GasCheck) []signal.SeenCheck {
	out := make([]signal.SeenCheck, len(checks))
	for i, c := range checks {
		out[i] = signal.SeenCheck{ID: c.ID.String(), At: c.WitnessedAt, Reading: c.Reading,
			Signalled: c.Signalled, Simulated: c.Simulated}
	}
	return out
}

// stretches returns those of a participant in the order of their beginnings. A
// check belongs to the dive that it names, else to the one during which it was
// witnessed. What was seen on the surface belongs to none, unless no dive of
// the participant was recorded at all.
func (w *sessionGas) stretches(participant uuid.UUID) (all []*stretch, surface []waterview.GasCheck) {
	for i, d := range w.log {
		if d.ParticipantID == participant {
			all = append(all, &stretch{DiveID: &w.log[i].DiveID, Logged: &w.log[i]})
		}
	}
	dived := len(all) > 0
	for _, c := range w.checks {
		if *c.ParticipantID != participant {
			continue
		}
		at := belongs(all, c.DiveID, c.WitnessedAt)
		switch {
		case at == nil && c.DiveID == nil && dived:
			surface = append(surface, c)
			continue
		case at == nil:
			at = &stretch{DiveID: c.DiveID}
			all = append(all, at)
		}
		at.Checks = append(at.Checks, c)
	}
	slices.SortStableFunc(all, func(a, b *stretch) int { return a.start().Compare(b.start()) })
	return all, surface
}

// belongs finds the stretch of a dive, or the last that holds a moment; nil for
// none. Of two on one dive it is the one that holds the moment, else the last.
func belongs(all []*stretch, dive *uuid.UUID, at time.Time) (found *stretch) {
	for _, s := range slices.Backward(all) {
		switch {
		case dive != nil && (s.DiveID == nil || *s.DiveID != *dive):
			continue
		case dive == nil && s.DiveID != nil && !s.holds(at):
			continue
		case found == nil, !found.holds(at) && s.holds(at):
			found = s
		}
	}
	return found
}

// before returns the last stretch that had begun at a moment that lies in none,
// the first when none had; nil when there is none or one holds it.
func before(all []*stretch, at time.Time) (found *stretch) {
	for _, s := range all {
		if s.holds(at) {
			return nil
		}
		if found == nil || !s.start().After(at) {
			found = s
		}
	}
	return found
}

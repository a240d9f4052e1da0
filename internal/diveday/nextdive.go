package diveday

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// NextDive is what is being planned: every dive of a session, or one of them.
type NextDive struct {
	SessionID uuid.UUID
	DiveID    *uuid.UUID    // nil: every dive of the session
	Depth     units.Reading // the greatest depth
	Under     time.Duration // from time in to time out, including the ascent and its stop
}

// NoStop is what a person's earlier dives leave for those being planned. A person
// without a part in the session, or without one that counts, has no Dives and an
// unlimited Left.
type NoStop struct {
	PersonID uuid.UUID
	Left     nostop.Limit // from time in to time out, the shortest of the dives planned
	Dives    []Dive       // those being planned, judged after the earlier ones
	Earlier  []Dive       // those before them, up to three days back
	Findings finding.List // of Dives, each about its dive; the messages do not name the person
}

// After returns what one person's dives leave for the dives being planned, judged by the
// no-stop tables in the sequence of them all. A plan's bottom time is shorter than Left
// by its ascent with its stop.
func (n NextDive) After(person uuid.UUID, dives []Dive, set nostop.Settings) NoStop {
	out := NoStop{PersonID: person, Left: nostop.Limit{Unlimited: true}}
	dives = slices.Clone(dives)
	for i := range dives {
		if d := &dives[i]; n.plans(*d) {
			d.DepthFrom, d.TimeFrom = ConfirmedPlan, ConfirmedPlan
			d.Result.Dive.Depth, d.Result.Dive.Out = n.Depth, d.Result.Dive.In.Add(n.Under)
		}
	}
	judge(dives, set)
	for _, d := range dives {
		if !n.plans(d) {
			if len(out.Dives) == 0 {
				out.Earlier = append(out.Earlier, d)
			}
			continue
		}
		out.Dives = append(out.Dives, d)
		out.Findings = append(out.Findings, d.Result.Findings...)
		if left := d.Result.Left; !left.Unlimited && (out.Left.Unlimited || left.At < out.Left.At) {
			out.Left = left
		}
	}
	return out
}

// plans reports whether a dive is one of those being planned. A dive that was done is
// not.
func (n NextDive) plans(d Dive) bool {
	return d.SessionID == n.SessionID && (n.DiveID == nil || d.DiveID == *n.DiveID) && !d.Result.Dive.Done
}

// mostEarlier is how many earlier dives of one person a plan takes in: more than
// anybody makes in the 48 h that the tables look back.
const mostEarlier = 30

// EarlierDives returns the dives whose nitrogen still counts when a dive starts, as a
// plan takes them in: those among Dives that come before it too. A dive that is to end
// after that start counts until then, and the two are judged as one.
func (n NoStop) EarlierDives(starts time.Time) []gasplan.EarlierDive {
	all := n.Earlier
	if len(n.Dives) > 1 {
		all = slices.Concat(all, n.Dives[:len(n.Dives)-1])
	}
	var out []gasplan.EarlierDive
	for _, d := range all {
		dive := d.Result.Dive
		if !dive.In.Before(starts) || starts.Sub(dive.Out) > lookBehind || dive.Depth.IsZero() ||
			!dive.Out.After(dive.In) {
			continue
		}
		e := gasplan.EarlierDive{Depth: gasplan.Of(dive.Depth), InAt: dive.In, OutAt: dive.Out,
			Ascents: dive.Ascents}
		if e.OutAt.After(starts) {
			e.OutAt = starts
		}
		if !dive.Altitude.IsZero() {
			e.Altitude = new(gasplan.Of(dive.Altitude))
		}
		out = append(out, e)
	}
	return out[max(0, len(out)-mostEarlier):]
}

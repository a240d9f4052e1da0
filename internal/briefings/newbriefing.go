package briefings

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/once"
	"tankside/internal/units"
)

// NewBriefing is what a group was told before a dive, as the person who gave the
// briefing reports it.
type NewBriefing struct {
	Key          once.Key
	SessionID    uuid.UUID
	GivenBy      *uuid.UUID // nil: the caller
	BriefedAt    time.Time
	Convention   string         // its code
	CheckEvery   *units.Reading // the interval of gas checks; nil: none was agreed
	Pressures    Pressures      // of everybody without a confirmed plan or pressures of their own
	Dive         NewDive
	People       []NewPerson  // empty: everybody of the session who does not sit out
	Instructions Instructions // "" for the usual ones
	Roles        []Role
	Note         string
	Acknowledged []NewAcknowledgement // acknowledgements given at once
}

// NewDive is the dive that a briefing is about; what is nil was not named.
type NewDive struct {
	DiveID      *uuid.UUID        // nil: every dive of the session
	Depth       *gasplan.Quantity // of the deepest point
	PlannedTime *gasplan.Quantity // from leaving the surface to the start of the ascent
	Cylinder    *gasplan.CylinderInput
}

// Pressures are the start, turn and low-gas pressures of a diver, nil where none was
// told.
type Pressures = dayview.Pressures

// NewPerson is one person whom a briefing is for.
type NewPerson struct {
	PersonID uuid.UUID
	Pressures
	Knows *string // the code of the convention that the person was trained in elsewhere
}

// Instructions are what divers do when something goes wrong.
type Instructions struct {
	WhenLow       string `json:"when_low"`
	WhenOut       string `json:"when_out"`
	WhenSeparated string `json:"when_separated"`
}

// usualInstructions are agreed where a briefing says nothing else: common practice, as
// in training organisations' manuals (low on gas; share; look for one minute, then up;
// all seen).
var usualInstructions = Instructions{
	WhenLow: "At your low-gas pressure signal \"low on gas\". Your buddy closes up, and you ascend together.",
	WhenOut: "Signal \"out of gas\" and \"share\". Whoever is next gives the alternate regulator; hold on to each " +
		"other and ascend together.",
	WhenSeparated: "Look for your buddy for one minute, then ascend slowly and meet at the surface.",
}

// orUsual returns the instructions with the usual ones for those that are empty.
func (i Instructions) orUsual() Instructions {
	return Instructions{cmp.Or(i.WhenLow, usualInstructions.WhenLow), cmp.Or(i.WhenOut, usualInstructions.WhenOut),
		cmp.Or(i.WhenSeparated, usualInstructions.WhenSeparated)}
}

// Role is a task and the person who has it.
type Role struct {
	Role     string     `json:"role"` // lead, last, oxygen or radio
	PersonID *uuid.UUID `json:"person_id"`
	Name     string     `json:"name"` // of a person on record, theirs
}

// longestInterval is the longest interval of gas checks that is taken, in minutes: a
// day, our choice, since no session is longer.
const longestInterval = 24 * 60

// check returns a fault for input errors that the contract's schema cannot describe.
func (n NewBriefing) check() error {
	if n.CheckEvery != nil && (n.CheckEvery.Minutes() < 1.0/60 || n.CheckEvery.Minutes() > longestInterval) {
		return fault.Invalid("/check_every",
			"An interval is between a second and 24 hours; null says that none was agreed.")
	}
	for i, r := range n.Roles {
		if (r.PersonID == nil) == (r.Name == "") {
			return fault.Invalid(fmt.Sprintf("/roles/%d", i),
				"Say who it is by person_id or by name, one of the two.")
		}
	}
	var seen []uuid.UUID
	for i, p := range n.People {
		if slices.Contains(seen, p.PersonID) {
			return fault.Invalid(fmt.Sprintf("/people/%d/person_id", i), "Each person is named once.")
		}
		seen = append(seen, p.PersonID)
		if err := checkPressures(p.Pressures, fmt.Sprintf("/people/%d", i)); err != nil {
			return err
		}
	}
	return checkPressures(n.Pressures, "/pressures")
}

// mostPressure is the highest pressure that is accepted: 350 bar, our choice, above
// every rating in the trade, as for gas checks.
var mostPressure = units.Read(350, units.UnitBar)

// checkPressures returns a fault for a pressure above mostPressure.
func checkPressures(p Pressures, pointer string) error {
	for _, x := range []struct {
		name string
		r    *units.Reading
	}{{"start", p.Start}, {"turn", p.Turn}, {"low", p.Low}} {
		if x.r != nil && x.r.Compare(mostPressure) > 0 {
			return fault.Invalid(pointer+"/"+x.name,
				"{found} is above {limit}, which no cylinder holds. Check the unit.", x.r, mostPressure)
		}
	}
	return nil
}

// mentioned returns the persons whom the briefing names by id.
func (n NewBriefing) mentioned() []uuid.UUID {
	ids := []uuid.UUID{}
	for _, p := range n.People {
		ids = append(ids, p.PersonID)
	}
	for _, r := range n.Roles {
		if r.PersonID != nil {
			ids = append(ids, *r.PersonID)
		}
	}
	return ids
}

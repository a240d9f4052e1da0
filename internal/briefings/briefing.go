package briefings

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/permission"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Briefing is a recorded briefing, with its acknowledgements.
type Briefing struct {
	ID         uuid.UUID
	SessionID  uuid.UUID
	Session    string // its title
	Site       *string
	TimeZone   string
	GivenBy    uuid.UUID
	GivenName  string
	InCharge   bool  // the giver was in charge of a group when it was recorded
	Dive       *Dive // nil where it names no dive and tells no pressures
	BriefedAt  time.Time
	RecordedAt time.Time
	RecordedBy *uuid.UUID
	VoidedAt   *time.Time
	VoidReason *string
	Convention signal.Convention
	CheckEvery *units.Reading // nil: no interval was agreed
	Instructions
	Roles       []Role
	Visibility  *units.Reading
	Current     *units.Reading
	Temperature *units.Reading
	Emergency   *string
	Note        string
	People      []Person
	Findings    finding.List
}

// Dive is the dive that a briefing is about, and by which its pressures were judged. Its
// tags are stored and never change.
type Dive struct {
	DiveID      *uuid.UUID             `json:"-"` // nil: every dive of the session
	Depth       *gasplan.Quantity      `json:"depth"`
	PlannedTime *gasplan.Quantity      `json:"planned_time"`
	Cylinder    *gasplan.CylinderInput `json:"cylinder"`
	Named       []string               `json:"named"` // which of these the briefing named
}

// Person is one person whom a briefing is for.
type Person struct {
	PersonID      uuid.UUID
	Name          string
	ParticipantID *uuid.UUID
	GaugeUnit     units.Unit
	Newest        bool             // this is the newest standing briefing for the person
	BriefedAt     *time.Time       // nil while this briefing does not count
	Outdated      bool             // a plan confirmed since has other pressures
	Acknowledged  *Acknowledgement // nil while it is not acknowledged
	Figures       []Figures
	Knows         *signal.Convention // that the person was trained in, where it is another one
	Differences   []signal.Difference
}

// Acknowledgement is how and when a person acknowledged a briefing.
type Acknowledgement struct {
	ID          uuid.UUID
	BriefingID  uuid.UUID // this one, or an earlier one with the same content for the person
	PersonID    uuid.UUID
	How         AcknowledgedBy
	WitnessedBy uuid.UUID
	RecordedBy  *uuid.UUID // nil for a program
	WitnessedAt time.Time
}

// Figures are a person's pressures for one dive, or for all dives of a session.
type Figures struct {
	DiveID     *uuid.UUID
	DiveNumber *int       // within the session
	PlanID     *uuid.UUID // the confirmed plan that they come from
	Start      *Figure
	Turn       *Figure
	Low        *Figure
}

// Figure is a pressure as it was told, and as it is shown.
type Figure struct {
	Given units.Reading
	Shown *Shown // nil when hands cannot show it
}

// names reports whether the briefing is for a person.
func (b Briefing) names(person uuid.UUID) bool {
	return slices.ContainsFunc(b.People, func(p Person) bool { return p.PersonID == person })
}

// readableBy reports whether the caller reads all briefings, or is named by this one.
func (b Briefing) readableBy(by actor.Actor) bool {
	return permission.Of("getBriefing", by) == permission.All || b.names(by.Person)
}

package dayview

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Pressures are the pressures of one person for one dive: where it starts, where it
// turns, and the low-gas pressure; nil is not known.
type Pressures struct{ Start, Turn, Low *units.Reading }

// OnHand returns the pressures as a gauge and hands show them, to 10 bar or 100 psi:
// a start rounded down, turn and low-gas pressures rounded up.
func (p Pressures) OnHand(gauge units.Unit) Pressures {
	hand := signal.Convention{Unit: gauge}
	round := func(r *units.Reading, to func(units.Reading) units.Reading) *units.Reading {
		if r == nil {
			return nil
		}
		return new(to(*r))
	}
	return Pressures{round(p.Start, hand.Down), round(p.Turn, hand.Up), round(p.Low, hand.Up)}
}

// Figures are pressures that a briefing told one person, as they are stored.
type Figures struct {
	DiveID *uuid.UUID     `json:"dive_id"` // nil: every dive of the session
	PlanID *uuid.UUID     `json:"plan_id"` // the plan that they come from; nil: the briefing's own
	Start  *units.Reading `json:"start"`
	Turn   *units.Reading `json:"turn"`
	Low    *units.Reading `json:"low"`
}

// Pressures returns the stored pressures.
func (f Figures) Pressures() Pressures { return Pressures{Start: f.Start, Turn: f.Turn, Low: f.Low} }

// Briefing is what a standing briefing of the session said to one person, who need
// not take part.
type Briefing struct {
	SessionID   uuid.UUID
	BriefingID  uuid.UUID
	PersonID    uuid.UUID
	GivenAt     time.Time
	RecordedAt  time.Time
	DiveID      *uuid.UUID // the dive that it is about; nil: every dive of the session
	InCharge    bool       // given by somebody in charge of a group
	CheckEveryS *int       // seconds between gas checks; nil: none were agreed
	GaugeUnit   units.Unit
	Figures     []Figures
	Told        finding.List // what forbids the pressures that it tells
	Digest      []byte       // of all that concerns the person
	HeardAt     *time.Time   // the first standing acknowledgement; nil: none
}

// FiguresFor returns the pressures that were told for a dive, else those for every
// dive.
func (b Briefing) FiguresFor(dive *uuid.UUID) (all Figures) {
	for _, f := range b.Figures {
		switch {
		case f.DiveID == nil:
			all = f
		case dive != nil && *f.DiveID == *dive:
			return f
		}
	}
	return all
}

// Plan is what a confirmed gas plan has for one participant, superseded or withdrawn
// or not.
type Plan struct {
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	PlanID        uuid.UUID
	DiveID        *uuid.UUID // nil: every dive of the session
	GroupID       *uuid.UUID // nil: not of one group alone
	Turn          int        // counts the session's confirmed plans
	ConfirmedAt   time.Time
	WithdrawnAt   *time.Time
	StartPressure units.Reading
	TurnPressure  units.Reading
	LowPressure   units.Reading
}

// Pressures returns the pressures that the plan has for the participant.
func (p Plan) Pressures() Pressures {
	return Pressures{Start: &p.StartPressure, Turn: &p.TurnPressure, Low: &p.LowPressure}
}

// Sharing is whom a confirmed plan has a participant share gas with.
type Sharing struct {
	SessionID     uuid.UUID
	PlanID        uuid.UUID
	ParticipantID uuid.UUID
	PartnerID     uuid.UUID // of the participant
}

// OpenPlan is the newest plan, of a dive and group, that was made after the last
// confirmed one and neither confirmed nor withdrawn.
type OpenPlan struct {
	ID        uuid.UUID
	SessionID uuid.UUID
	PlannedAt time.Time
	DiveID    *uuid.UUID
	GroupID   *uuid.UUID
	Findings  finding.List
}

// Record returns the plans of record: of each participant and dive the one that was
// confirmed last, where it was not withdrawn since. They are in the order of
// participants and dives, those for every dive last: what a briefing keeps of them,
// and its digest, is in that order.
func (v View) Record() []Plan {
	type place struct{ part, dive uuid.UUID }
	last, order := map[place]Plan{}, []place{}
	for _, p := range v.Plans { // by turn
		at := place{part: p.ParticipantID, dive: uuid.Max}
		if p.DiveID != nil {
			at.dive = *p.DiveID
		}
		if _, there := last[at]; !there {
			order = append(order, at)
		}
		last[at] = p
	}
	slices.SortFunc(order, func(a, b place) int {
		return cmp.Or(slices.Compare(a.part[:], b.part[:]), slices.Compare(a.dive[:], b.dive[:]))
	})
	var out []Plan
	for _, at := range order {
		if p := last[at]; p.WithdrawnAt == nil {
			out = append(out, p)
		}
	}
	return out
}

// Briefings are the standing briefings of a session, the newest first: one row for each
// person that a briefing names.
type Briefings []Briefing

// Newest returns the newest standing briefing that names a person, and whether there
// is one.
func (all Briefings) Newest(person uuid.UUID) (Briefing, bool) {
	for _, b := range all {
		if b.PersonID == person {
			return b, true
		}
	}
	return Briefing{}, false
}

// BriefedAt returns when a person first acknowledged what the newest briefing that
// names them says, in that briefing or in an earlier one since which nothing that
// concerns them was changed; nil where they have not.
func (all Briefings) BriefedAt(person uuid.UUID) (at *time.Time) {
	newest, told := all.Newest(person)
	if !told {
		return nil
	}
	for _, o := range all {
		if o.PersonID != person || o.HeardAt == nil || string(o.Digest) != string(newest.Digest) ||
			all.changedSince(o, newest) {
			continue
		}
		if at == nil || o.HeardAt.Before(*at) {
			at = o.HeardAt
		}
	}
	return at
}

// changedSince reports whether another briefing told the person otherwise after an
// earlier one.
func (all Briefings) changedSince(earlier, newest Briefing) bool {
	for _, c := range all {
		if c.PersonID == newest.PersonID && string(c.Digest) != string(newest.Digest) &&
			c.GivenAt.After(earlier.GivenAt) {
			return true
		}
	}
	return false
}

// Newest is Briefings.Newest of the session's briefings.
func (v View) Newest(person uuid.UUID) (Briefing, bool) { return v.Briefings.Newest(person) }

// BriefedAt is Briefings.BriefedAt of the session's briefings.
func (v View) BriefedAt(person uuid.UUID) *time.Time { return v.Briefings.BriefedAt(person) }

package briefings

import (
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/units"
)

// storedContent is what a briefing keeps beside its convention and its people. Its tags
// are stored and never change.
type storedContent struct {
	Instructions
	Roles      []Role         `json:"roles"`
	Conditions conditions     `json:"conditions"`
	Emergency  *string        `json:"emergency"`
	Note       string         `json:"note"`
	CheckEvery *units.Reading `json:"check_every,omitempty"` // as it was said
}

// conditions are the conditions as reported last.
type conditions struct {
	Visibility  *units.Reading `json:"visibility"`
	Current     *units.Reading `json:"current"`
	Temperature *units.Reading `json:"water_temperature"`
}

// content returns what a briefing keeps, with the names of the people who have a role.
// Fault: unknown_reference.
func (s sessionSnapshot) content(n NewBriefing) (storedContent, error) {
	out := storedContent{Instructions: n.Instructions.orUsual(), Roles: []Role{}, Conditions: s.conditions,
		Emergency: s.emergency, Note: n.Note, CheckEvery: n.CheckEvery}
	for i, r := range n.Roles {
		if r.PersonID != nil {
			p, ok := s.people[*r.PersonID]
			if !ok {
				return out, fault.UnknownReference("person", fmt.Sprintf("/roles/%d/person_id", i))
			}
			r.Name = p.Name
		}
		out.Roles = append(out.Roles, r)
	}
	return out, nil
}

// briefedContent is everything that one person is told in a briefing, with pressures as
// they are shown by hand. Its digest decides whether a further briefing has to be
// acknowledged again, so it leaves out what binds nobody: the conditions of the day, the
// note, the convention's name, the plan that pressures come from, and what the person
// knew before.
//
// Digests of it are stored. So its tags never change, a new member is left out where it
// is empty, and testdata/content.jsonl holds samples with their digests.
type briefedContent struct {
	Convention   conventionContent `json:"convention"`
	CheckEveryS  *int              `json:"check_every_s"` // nil: no interval was agreed
	Instructions Instructions      `json:"instructions"`
	Roles        []Role            `json:"roles"`
	Emergency    *string           `json:"emergency"`
	GaugeUnit    units.Unit        `json:"gauge_unit"`
	Figures      []storedFigures   `json:"figures"`
	Dive         *contentDive      `json:"dive,omitempty"` // nil where the briefing names nothing of it
}

// contentDive is the dive as the briefing names it. The cylinder is left out: pressures
// are judged by it, and nobody is told of it.
type contentDive struct {
	DiveID      *uuid.UUID        `json:"dive_id"`
	Depth       *gasplan.Quantity `json:"depth"`
	PlannedTime *gasplan.Quantity `json:"planned_time"`
}

// contentFor returns the content for one person of the briefing.
func (r recording) contentFor(p briefedPerson) briefedContent {
	out := briefedContent{Convention: contentOf(r.convention), CheckEveryS: r.checkEveryS,
		Instructions: r.content.Instructions, Roles: r.content.Roles, Emergency: r.content.Emergency,
		GaugeUnit: p.GaugeUnit, Figures: make([]storedFigures, len(p.Figures))}
	out.Convention.Name, out.Convention.Note = "", ""
	for i, f := range p.Figures {
		shown := f.Pressures().OnHand(p.GaugeUnit)
		out.Figures[i] = storedFigures{DiveID: f.DiveID, Start: shown.Start, Turn: shown.Turn,
			Low: shown.Low}
	}
	if r.named != (NewDive{}) {
		out.Dive = &contentDive{r.named.DiveID, r.named.Depth, r.named.PlannedTime}
	}
	return out
}

// digest returns the digest that is stored of the content.
func (c briefedContent) digest() []byte { return journal.DigestOf(c) }

package httpapi

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"tankside/api"
	"tankside/internal/briefings"
	"tankside/internal/gasplan"
	"tankside/internal/sheet"
	"tankside/internal/when"
)

// GetBriefingSheet implements GET /v1/briefings/{id}/sheet.
func (h briefingHandlers) GetBriefingSheet(ctx context.Context,
	r api.GetBriefingSheetRequestObject) (api.GetBriefingSheetResponseObject, error) {
	b, err := h.briefings.Get(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	head, content := briefingSheet(b)
	out, write := &sheetAnswer{plain: asksForText(r.Params.Accept)}, content.HTML
	if out.plain {
		write = content.Text
	}
	return out, write(&out.body, head)
}

// briefingCaution goes with every briefing's sheet.
const briefingCaution = "This sheet records what was agreed. It never says that a dive is safe: local law, the training organisation and the instructor in charge come first, and the gauge decides."

func briefingSheet(b briefings.Briefing) (sheet.Head, sheet.Briefing) {
	loc, err := when.Zone(b.TimeZone, "")
	if err != nil {
		loc = time.UTC // a zone that was known once and is no more
	}
	clock := func(t time.Time) string { return t.In(loc).Format("2 January 2006 15:04") }
	open, outdated := 0, 0
	for _, p := range b.People {
		switch {
		case p.Outdated:
			outdated++
		case p.BriefedAt == nil:
			open++
		}
	}
	h := sheet.Head{Title: "Briefing", Of: b.Session, Settled: open+outdated == 0 && b.VoidedAt == nil,
		Caution: []string{briefingCaution},
		State:   fmt.Sprintf("Given by %s, %s; acknowledged by all", b.GivenName, clock(b.BriefedAt)),
		Foot:    fmt.Sprintf("Briefing %s, recorded %s.", b.ID, clock(b.RecordedAt))}
	switch {
	case b.VoidedAt != nil:
		h.State = "Voided: not to be gone by"
	case outdated > 0:
		h.State = fmt.Sprintf("Given by %s, %s; other pressures count now for %d of %d: brief them again",
			b.GivenName, clock(b.BriefedAt), outdated, len(b.People))
	case open > 0:
		h.State = fmt.Sprintf("Given by %s, %s; %d of %d still to acknowledge", b.GivenName, clock(b.BriefedAt),
			open, len(b.People))
	}
	h.Facts = briefingFacts(b)
	out := sheet.Briefing{WhenLow: b.WhenLow, WhenOut: b.WhenOut, WhenSeparated: b.WhenSeparated,
		Emergency: given(b.Emergency, ""), Note: b.Note, Findings: b.Findings}
	for _, r := range b.Roles {
		out.Roles = append(out.Roles, sheet.Fact{Label: roleLabels[r.Role], Value: r.Name})
	}
	for _, x := range b.Convention.Signs {
		out.Signs = append(out.Signs,
			sheet.BriefingSign{Meaning: x.Meaning.String(), Gesture: x.Gesture.String(),
				Picture: template.HTML(x.Gesture.Picture())})
	}
	for _, p := range b.People {
		out.People = append(out.People,
			sheetPeople(p, func(t time.Time) string { return t.In(loc).Format("15:04") })...)
	}
	return h, out
}

var roleLabels = map[string]string{"lead": "Leads", "last": "Last", "oxygen": "Oxygen", "radio": "Radio"}

func briefingFacts(b briefings.Briefing) []sheet.Fact {
	every := "no interval agreed"
	if b.CheckEvery != nil {
		every = "every " + b.CheckEvery.String()
		if m := b.CheckEvery.Minutes(); m == math.Trunc(m) {
			every = fmt.Sprintf("every %g min", m)
		}
	}
	out := []sheet.Fact{{Label: "Signals", Value: b.Convention.Name},
		{Label: "Units", Value: string(b.Convention.Unit)}, {Label: "Gas checks", Value: every}}
	if b.Site != nil {
		out = append([]sheet.Fact{{Label: "Site", Value: *b.Site}}, out...)
	}
	if b.Dive != nil {
		out = append(out, sheet.Fact{Label: "Pressures told for", Value: toldFor(b)})
	}
	for _, x := range []struct {
		label string
		r     fmt.Stringer
		given bool
	}{{"Visibility", b.Visibility, b.Visibility != nil}, {"Current", b.Current, b.Current != nil},
		{"Water", b.Temperature, b.Temperature != nil}} {
		if x.given {
			out = append(out, sheet.Fact{Label: x.label, Value: x.r.String()})
		}
	}
	return out
}

// toldFor returns the dive that the pressures told in a briefing are for, its depth
// and its time. What the briefing did not name is marked as assumed.
func toldFor(b briefings.Briefing) string {
	parts := []string{"every dive"}
	if id := b.Dive.DiveID; id != nil {
		parts[0] = "one dive"
		for _, p := range b.People {
			for _, f := range p.Figures {
				if f.DiveID != nil && *f.DiveID == *id && f.DiveNumber != nil {
					parts[0] = fmt.Sprintf("dive %d", *f.DiveNumber)
				}
			}
		}
	}
	for _, x := range []struct {
		name, words string
		q           *gasplan.Quantity
	}{{"depth", "to %s", b.Dive.Depth}, {"planned_time", "%s until the ascent", b.Dive.PlannedTime}} {
		switch {
		case x.q == nil:
			parts = append(parts, strings.ReplaceAll(x.name, "_", " ")+" not known")
		case slices.Contains(b.Dive.Named, x.name):
			parts = append(parts, fmt.Sprintf(x.words, x.q.Reading()))
		default:
			parts = append(parts, fmt.Sprintf(x.words, x.q.Reading())+" (assumed)")
		}
	}
	return strings.Join(parts, ", ")
}

// sheetPeople returns the rows of one person: one for each plan, those that say
// the same in one.
func sheetPeople(p briefings.Person, clock func(time.Time) string) []sheet.BriefingPerson {
	heard := ""
	if p.Acknowledged != nil && p.BriefedAt != nil {
		heard = strings.ReplaceAll(string(p.Acknowledged.How), "_", " ") + " " +
			clock(p.Acknowledged.WitnessedAt)
	}
	var differs []sheet.BriefingDiffers
	for _, d := range p.Differences {
		differs = append(differs,
			sheet.BriefingDiffers{Who: p.Name, What: strings.ReplaceAll(d.What, "_", " "), Here: d.Here,
				There: d.There})
	}
	var out []sheet.BriefingPerson
	for _, f := range inOrder(p.Figures) {
		one := sheet.BriefingPerson{Name: p.Name, Heard: heard,
			Figures: [3]sheet.BriefingFigure{sheetFigure("Start", f.Start), sheetFigure("Turn", f.Turn),
				sheetFigure("Low on gas", f.Low)}}
		if f.DiveNumber != nil {
			one.Dive = fmt.Sprintf("dive %d", *f.DiveNumber)
		}
		if last := len(out) - 1; last >= 0 && out[last].Figures == one.Figures && one.Dive != "" {
			out[last].Dive += fmt.Sprintf(", %d", *f.DiveNumber)
			continue
		}
		out = append(out, one)
	}
	out[len(out)-1].Differences = differs
	return out
}

// inOrder returns somebody's pressures in the order of their dives; one without
// any where there are none.
func inOrder(figures []briefings.Figures) []briefings.Figures {
	if len(figures) == 0 {
		return []briefings.Figures{{}}
	}
	return slices.SortedStableFunc(slices.Values(figures), func(a, b briefings.Figures) int {
		return given(a.DiveNumber, 0) - given(b.DiveNumber, 0)
	})
}

func sheetFigure(label string, f *briefings.Figure) sheet.BriefingFigure {
	switch {
	case f == nil:
		return sheet.BriefingFigure{Label: label}
	case f.Shown == nil:
		return sheet.BriefingFigure{Label: label, Text: f.Given.String()} // the gauge itself is shown
	}
	x := f.Shown
	return sheet.BriefingFigure{Label: label, Text: x.Reading.String(), Hands: x.Gestures.String(),
		Strip: template.HTML(x.Convention.Strip(x.Gestures, x.Reading.String()))}
}

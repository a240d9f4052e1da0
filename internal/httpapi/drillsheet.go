package httpapi

import (
	"context"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"tankside/api"
	"tankside/internal/briefings"
	"tankside/internal/finding"
	"tankside/internal/gaswatch"
	"tankside/internal/sessions"
	"tankside/internal/sheet"
	"tankside/internal/signal"
)

// VisitGetDrillSheetResponse implements api.GetDrillSheetResponseObject.
func (a *sheetAnswer) VisitGetDrillSheetResponse(w http.ResponseWriter) error { return a.write(w) }

// drillSheetHandlers serves the drill sheet.
type drillSheetHandlers struct {
	briefings *briefings.Service
	gaswatch  *gaswatch.Service
	sessions  *sessions.Service
}

// GetDrillSheet implements GET /v1/sessions/{id}/drill-sheet.
func (h drillSheetHandlers) GetDrillSheet(ctx context.Context,
	r api.GetDrillSheetRequestObject) (api.GetDrillSheetResponseObject, error) {
	session, err := h.sessions.Session(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	c, err := h.briefings.Convention(ctx, callerOf(ctx), r.Params.Convention)
	if err != nil {
		return nil, err
	}
	script, err := h.gaswatch.WriteDrill(ctx, callerOf(ctx), r.ID,
		gaswatch.DrillRequest{Seed: uint64(r.Params.Seed), Convention: c.Convention,
			Participants: given(r.Params.ParticipantID, nil)})
	if err != nil {
		return nil, err
	}
	head := sheet.Head{Title: "Drill", Of: session.Title, Caution: []string{signal.Caution},
		Facts: []sheet.Fact{{Label: "Signals", Value: c.Name}},
		Foot:  fmt.Sprintf("Seed %d. Every reading is imagined.", r.Params.Seed)}
	content := drillSheet(c.Convention, script)
	out, write := &sheetAnswer{plain: asksForText(r.Params.Accept)}, content.HTML
	if out.plain {
		write = content.Text
	}
	return out, write(&out.body, head)
}

func drillSheet(c signal.Convention, script gaswatch.DrillScript) sheet.Drill {
	// What is only to be noted of the signals belongs to the briefing.
	out := sheet.Drill{LeftOut: leftOut(script.Students),
		Findings: slices.DeleteFunc(slices.Clone(script.Findings),
			func(f finding.Finding) bool { return f.Severity == finding.Note })}
	for i, card := range script.Cards {
		d := script.Students[slices.IndexFunc(script.Students,
			func(d gaswatch.DrillStudent) bool { return d.ParticipantID.String() == card.Trainee })]
		one := sheet.DrillCard{Number: i + 1, Name: d.Name, Gauge: card.Reading.String(),
			Report: c.In(d.GaugeUnit).Down(card.Reading).String(), Hands: card.Show.String()}
		var then []string
		for _, e := range card.Expect[1:] { // the first is the report
			what, do := surprise(e)
			then = append(then, what)
			what = inBrackets.ReplaceAllString(what, "") // whose pressure it is differs
			if !slices.ContainsFunc(out.Expected, func(f sheet.Fact) bool { return f.Label == what }) {
				out.Expected = append(out.Expected, sheet.Fact{Label: what, Value: do})
			}
		}
		one.Then = strings.Join(then, "; ")
		out.Cards = append(out.Cards, one)
	}
	return out
}

// leftOut returns in one sentence which cases are left out for whom.
func leftOut(students []gaswatch.DrillStudent) string {
	var cases []string
	for _, c := range signal.Misreadings() {
		var names []string
		for _, d := range students {
			if slices.Contains(d.LeftOut, c) {
				names = append(names, d.Name)
			}
		}
		if len(names) > 0 {
			cases = append(cases, fmt.Sprintf("%s (%s)", c.Title(), strings.Join(names, ", ")))
		}
	}
	if len(cases) == 0 {
		return ""
	}
	return strings.Join(cases, "; ") + ": no such pressure has been planned."
}

var inBrackets = regexp.MustCompile(` \([^)]*\)`)

// surprise cuts what happens from what is to be done then.
func surprise(expect string) (what, do string) {
	what, do, _ = strings.Cut(expect, ": ")
	return what, do
}

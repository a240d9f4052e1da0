package httpapi

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"tankside/api"
	"tankside/internal/plans"
	"tankside/internal/sheet"
	"tankside/internal/when"
)

// sheetAnswer is a sheet on its way: a page that may show its own styles and
// nothing else, or plain text.
type sheetAnswer struct {
	plain bool
	body  bytes.Buffer
}

// asksForText reports whether somebody would rather have plain text than a page.
func asksForText(accept *string) bool {
	a := given(accept, "")
	return strings.Contains(a, "text/plain") && !strings.Contains(a, "text/html")
}

func (a *sheetAnswer) write(w http.ResponseWriter) error {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if a.plain {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	} else {
		w.Header().Set("Content-Security-Policy", sheet.Policy)
	}
	_, err := a.body.WriteTo(w)
	return err
}

// VisitGetGasPlanSheetResponse implements api.GetGasPlanSheetResponseObject.
func (a *sheetAnswer) VisitGetGasPlanSheetResponse(w http.ResponseWriter) error { return a.write(w) }

// VisitGetBriefingSheetResponse implements api.GetBriefingSheetResponseObject.
func (a *sheetAnswer) VisitGetBriefingSheetResponse(w http.ResponseWriter) error { return a.write(w) }

// GetGasPlanSheet implements GET /v1/plans/{id}/sheet.
func (h planHandlers) GetGasPlanSheet(ctx context.Context,
	r api.GetGasPlanSheetRequestObject) (api.GetGasPlanSheetResponseObject, error) {
	p, scene, err := h.plans.Sheet(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	out, page := &sheetAnswer{plain: asksForText(r.Params.Accept)}, h.planSheet(p, scene)
	write := page.HTML
	if out.plain {
		write = page.Text
	}
	return out, write(&out.body)
}

// planSheet puts a stored plan on a sheet. Once it is confirmed, what was found
// then is said, with who took on which caution.
func (h planHandlers) planSheet(p plans.Plan, scene plans.SheetContext) sheet.Plan {
	loc, err := when.Zone(scene.TimeZone, "")
	if err != nil {
		loc = time.UTC // a zone that was known once and is no more
	}
	clock := func(t time.Time) string { return t.In(loc).Format("Mon 2 January 2006, 15:04") }
	out := sheet.Plan{Of: scene.Session, Input: p.Input, Result: p.Result, Settled: p.State() == "confirmed",
		Foot: fmt.Sprintf("Plan %s, planned %s.", p.ID, clock(p.PlannedAt))}
	out.Result.Findings = p.Findings
	switch p.State() {
	case "confirmed":
		out.State = fmt.Sprintf("Confirmed by %s, %s", given(scene.ConfirmedBy, "somebody"),
			clock(*p.ConfirmedAt))
		out.Result.Findings, out.Accepted = p.Confirmed, h.accepted(p, given(scene.ConfirmedBy, "somebody"))
	case "superseded":
		out.State = "Superseded by a later plan, " + clock(*p.SupersededAt)
	default:
		out.State = "Not confirmed"
	}
	if scene.Dive != nil {
		out.Of += fmt.Sprintf(", dive %d", *scene.Dive)
	}
	if scene.Group != nil {
		out.Of += ", group " + *scene.Group
	}
	out.Facts = sceneFacts(scene, clock)
	return out
}

func sceneFacts(scene plans.SheetContext, clock func(time.Time) string) []sheet.Fact {
	facts := []sheet.Fact{{Label: "Session starts", Value: clock(scene.StartsAt)}}
	for _, f := range []struct {
		label string
		value *string
	}{{"Site", scene.Site}, {"In charge", scene.InCharge}} {
		if f.value != nil {
			facts = append(facts, sheet.Fact{Label: f.label, Value: *f.value})
		}
	}
	if scene.TrainingDive != nil {
		facts = append(facts, sheet.Fact{Label: "Training dive", Value: fmt.Sprint(*scene.TrainingDive)})
	}
	return facts
}

// accepted returns who took on which caution, and why: what was taken on of several
// people for one reason, once.
func (h planHandlers) accepted(p plans.Plan, who string) []sheet.Fact {
	names := map[string]string{}
	for _, v := range p.Input.Divers {
		if v.ParticipantID != nil {
			names[v.ParticipantID.String()] = v.Name
		}
		names[v.Key] = v.Name
	}
	var out []sheet.Fact
	of := map[sheet.Fact][]string{}
	for _, a := range p.Accepted {
		f := sheet.Fact{Label: h.ruleTitle(a.Rule), Value: "taken on by " + who + ": " + a.Reason}
		if _, there := of[f]; !there {
			out = append(out, f)
		}
		of[f] = append(of[f], names[a.SubjectID])
	}
	for i, f := range out {
		if about := slices.DeleteFunc(of[f], func(name string) bool { return name == "" }); len(about) > 0 {
			out[i].Label += " (" + strings.Join(about, ", ") + ")"
		}
	}
	return out
}

// ruleTitle returns the title of a rule, or its id where it is known no more.
func (h planHandlers) ruleTitle(id string) string {
	for _, r := range h.rules {
		if r.ID == id {
			return r.Title
		}
	}
	return id
}

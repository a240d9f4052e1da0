package answer

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/finding"
	"tankside/internal/form"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/request"
	"tankside/internal/live"
	"tankside/internal/roster"
)

// Withheld writes answers for programs without papers:read: whatever the rules say
// of somebody's papers or fitness is one neutral finding for each person. It works
// on the JSON that leaves, so that no answer can be forgotten.
type Withheld struct {
	rules map[string]bool // the ids of the rules about papers and fitness
}

// NewWithheld returns what withholds the findings of those rules that are about
// papers and fitness.
func NewWithheld(rules []finding.Rule) Withheld {
	w := Withheld{rules: map[string]bool{}}
	for _, r := range rules {
		if r.Papers {
			w.rules[r.ID] = true
		}
	}
	return w
}

// WithheldFrom reports whether the caller is a program that may not read papers.
func WithheldFrom(ctx context.Context) bool {
	who, known := request.KnownCaller(ctx)
	return known && who.IsProgram() && !who.May(access.PapersRead)
}

// Around stands before a handler. A stream is rewritten event by event instead.
func (w Withheld) Around(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if op.Stream || !WithheldFrom(c.Request().Context()) {
				return next(c)
			}
			answer, err := hold(c, next)
			if err != nil {
				return err
			}
			body := answer.body.Bytes()
			if strings.Contains(c.Response().Header().Get("Content-Type"), "json") {
				if body, err = w.neutral(body); err != nil {
					return err
				}
			}
			c.Response().WriteHeader(answer.status)
			_, err = c.Response().Write(body)
			return err
		}
	}
}

// neutral returns JSON with the findings about papers replaced. It returns the same
// bytes where there are none.
func (w Withheld) neutral(text []byte) ([]byte, error) {
	if !w.within(text) {
		return text, nil
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, fmt.Errorf("withhold what is said of papers: %w", err)
	}
	out, err := json.Marshal(w.walk(v))
	if err != nil {
		return nil, fmt.Errorf("withhold what is said of papers: %w", err)
	}
	return out, nil
}

// Message returns a message of a stream as such a program is told it. What other
// listeners are told stays as it is.
func (w Withheld) Message(m live.Message) (live.Message, error) {
	var err error
	if m.Text, err = w.neutral(m.Text); err != nil {
		return m, err
	}
	m.Sessions = slices.Clone(m.Sessions)
	for i, s := range m.Sessions {
		if m.Sessions[i], err = w.neutral(s); err != nil {
			return m, err
		}
	}
	return m, nil
}

// within reports whether the text has anything to withhold; most answers have not.
func (w Withheld) within(text []byte) bool {
	for id := range w.rules {
		if bytes.Contains(text, []byte(`"`+id+`"`)) {
			return true
		}
	}
	return false
}

func (w Withheld) walk(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for name, x := range v {
			v[name] = w.walk(x)
		}
	case []any:
		return w.list(v)
	}
	return v
}

// list replaces the findings about papers in a list: one for each person, as grave
// as the gravest of them.
func (w Withheld) list(all []any) []any {
	out, first := make([]any, 0, len(all)), map[string]map[string]any{}
	for _, x := range all {
		f, is := x.(map[string]any)
		rule, _ := f["rule"].(string)
		if _, said := f["message"]; !is || !said || !w.rules[rule] {
			out = append(out, w.walk(x))
			continue
		}
		who, name := personOf(f)
		if before, there := first[cmp.Or(who, name)]; there {
			before["severity"] = graver(before["severity"], f["severity"])
			continue
		}
		kept := neutralFinding(f, who, name)
		first[cmp.Or(who, name)] = kept
		out = append(out, kept)
	}
	return out
}

// neutralFinding returns what is said in the place of a finding about papers: its
// severity, the person, and where in the request it is about.
func neutralFinding(f map[string]any, who, name string) map[string]any {
	person := finding.Named{Type: "person", ID: who, Name: cmp.Or(name, "somebody")}
	said := roster.PapersNotInOrder.Say("What is on record of {person} is not in order. Ask the centre.",
		person)
	said.Cures = []finding.Cure{{Code: "ask_centre",
		Message: "Ask the centre what is missing; the crew see it."}}
	if who != "" {
		said = said.About(person.Subject())
	}
	if session := subjectOf(f, "session"); session != "" {
		said = finding.List{said}.InSession(session)[0]
	}
	text, err := json.Marshal(form.Finding(said))
	var out map[string]any
	if err != nil || json.Unmarshal(text, &out) != nil {
		panic("httpapi: a finding of strings cannot be written")
	}
	for _, name := range []string{"severity", "in", "pointer", "line", "column", "needs_acceptance"} {
		if x, there := f[name]; there {
			out[name] = x
		}
	}
	return out
}

// personOf returns the id and the name of the person whom a finding is about; ""
// where it does not say.
func personOf(f map[string]any) (id, name string) {
	params, _ := f["params"].(map[string]any)
	return subjectOf(f, "person"), finding.NameOf(params["person"])
}

// subjectOf returns the id of the last subject of a type that a finding has, "" where it has none.
func subjectOf(f map[string]any, kind string) (id string) {
	subjects, _ := f["subjects"].([]any)
	for _, x := range subjects {
		if s, _ := x.(map[string]any); s["type"] == kind {
			id, _ = s["id"].(string)
		}
	}
	return id
}

// graver returns the graver of two severities as they stand in an answer.
func graver(a, b any) any {
	order := []any{string(finding.Forbidden), string(finding.Caution), string(finding.Note)}
	if slices.Index(order, b) < slices.Index(order, a) {
		return b
	}
	return a
}

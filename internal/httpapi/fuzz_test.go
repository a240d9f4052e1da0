package httpapi_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"
)

// FuzzContract sends each operation bodies and parameters that are made up from
// its schemas, some of them spoiled. Whatever comes, the answer is one that the
// contract lists, so never 500, and what is answered by 4xx changed nothing.
func FuzzContract(f *testing.F) {
	operations := theContract().operations
	for seed := range uint64(3) {
		for op := range operations {
			f.Add(uint16(op), seed)
		}
	}
	w := newSeason(f, open(f))
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK) // the other one stays planned
	callers := []*client{w.boss, w.boss, w.boss, w.instructor, w.assistant, w.program, w.student}
	known := w.everyID()
	super, err := pgx.Connect(f.Context(), w.DB.SuperURL)
	require.NoError(f, err)
	f.Cleanup(func() { _ = super.Close(context.Background()) })
	before, err := rowsOf(context.Background(), super)
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, n uint16, seed uint64) {
		op := operations[int(n)%len(operations)]
		g := &inventor{Rand: rand.New(rand.NewPCG(uint64(n), seed)), ids: known}
		a := g.ask(t, callers[g.IntN(len(callers))], op)
		after, err := rowsOf(t.Context(), super)
		require.NoError(t, err)
		if a.status >= http.StatusBadRequest {
			require.Equal(t, before, after, "%s answered %d %s and changed something", a.asked, a.status,
				a.text)
		}
		before = after
	})
}

// everyID gives the ids that there are, by the collection that they are read in.
func (w *season) everyID() map[string][]string {
	w.t.Helper()
	ids := map[string][]string{"syllabuses": {w.syllabus}, "courses": {w.course}, "sites": {w.pool, w.bay},
		"sessions": {w.confined, w.open},
		"groups":   {w.blue, w.openBlue}, "enrolments": {w.sofia, w.tiago}}
	read := func(kind, path string) {
		w.t.Helper()
		ids[kind] = append(ids[kind], w.boss.get(path).want(http.StatusOK).ids()...)
	}
	for _, session := range []string{w.confined, w.open} {
		read("participants", "/v1/sessions/"+session+"/participants")
		read("dives", "/v1/sessions/"+session+"/dives")
	}
	read("outings", "/v1/outings")
	read("briefings", "/v1/sessions/"+w.confined+"/briefings")
	ids["plans"] = []string{w.planGas(w.everybody(10, 20)).id()}
	for range 3 { // not those who call, lest they take their own roles away
		ids["people"] = append(ids["people"], w.Student("Somebody", "1990-01-01").String(),
			w.Crew("Somebody", "instructor").String())
	}
	ids["people"] = append(ids["people"], w.student.person.String())
	return ids
}

// inventor makes up requests.
type inventor struct {
	*rand.Rand
	ids    map[string][]string
	honest bool // spoils nothing
}

func (g *inventor) once(in int) bool { return g.IntN(in) == 0 }

func oneOf[T any](g *inventor, list []T) T { return list[g.IntN(len(list))] }

// ask sends one request.
func (g *inventor) ask(t *testing.T, c *client, op *operation) answer {
	t.Helper()
	kind := strings.Split(op.path, "/")[2]
	query := url.Values{}
	var headers []string
	for _, p := range op.Parameters {
		switch {
		case p.In == "query" && g.once(3):
			for range 1 + g.IntN(2) {
				query.Add(p.Name, fmt.Sprint(g.plain(g.value(p.Schema, p.Name))))
			}
		case p.In == "header" && !g.once(4):
			headers = append(headers, p.Name, oneOf(g, []string{`"1"`, `"2"`, `W/"1"`, "*", `"-1"`, "x"}))
		}
	}
	// The day before 0001-01-02 is how Go writes "no time": filled takes it for a forgotten member.
	to := op.address(map[string]string{"id": g.id(kind),
		"role": oneOf(g, []string{"manager", "student", "assistant", "admiral"}),
		"date": oneOf(g, []string{"2026-06-06", "2026-06-07", "2026-02-30", "0001-01-02"}), "number": oneOf(g,
			[]string{"1", "0", "99", "1e3"})})
	if len(query) > 0 {
		to += "?" + query.Encode()
	}
	if op.RequestBody == nil {
		return c.on(t).call(op.method, to, nil, headers...)
	}
	content := op.RequestBody.Content.First()
	made := g.value(content.Value().Schema, kind)
	text, isText := made.(string)
	if op.takesJSON() || !isText {
		raw, err := json.Marshal(made)
		require.NoError(t, err)
		text = string(raw)
	} else if !g.once(4) {
		text = "name,birth_on\n" + strings.ReplaceAll(text, "\n", " ") + ",1990-01-01\n"
	}
	return c.on(t).call(op.method, to, text, append(headers, "Content-Type", content.Key())...)
}

// plain makes a parameter of a value: the first item of a list.
func (g *inventor) plain(v any) any {
	if list, ok := v.([]any); ok {
		if len(list) == 0 {
			return ""
		}
		return g.plain(list[0])
	}
	return v
}

// id gives an id that is there, mostly.
func (g *inventor) id(kind string) string {
	if list := g.ids[kind]; len(list) > 0 && !g.once(8) {
		return oneOf(g, list)
	}
	return newID()
}

var spoiled = []any{nil, true, "", "\u0000", "'; DROP TABLE person; --", strings.Repeat("x", 5000), -1, 0,
	1e300, -0.001, math.MaxInt64, json.Number("1e400"),
	[]any{}, map[string]any{}, map[string]any{"value": -1,
		"unit": "parsec"}, "2026-02-30", "0000-00-00T00:00:00Z", "9999-12-31T23:59:59Z", "\u202e%s%n", "１２"}

// value makes a value of a schema up; name is the member that it is for.
func (g *inventor) value(p *base.SchemaProxy, name string) any {
	if !g.honest && g.once(25) {
		return oneOf(g, spoiled)
	}
	s := p.Schema()
	if len(s.OneOf) > 0 {
		return g.value(oneOf(g, s.OneOf), name)
	}
	if len(s.Enum) > 0 {
		var v any
		_ = oneOf(g, s.Enum).Decode(&v) // the contract was read before
		return v
	}
	if s.Const != nil {
		return s.Const.Value
	}
	types := s.Type
	if len(types) == 0 {
		types = []string{"object"}
	}
	switch oneOf(g, types) {
	case "null":
		return nil
	case "boolean":
		return g.once(2)
	case "integer":
		return g.number(s, true)
	case "number":
		return g.number(s, false)
	case "array":
		return g.list(s, name)
	case "string":
		return g.text(s, name)
	}
	return g.object(s)
}

func (g *inventor) number(s *base.Schema, whole bool) any {
	low, high := 0.0, 100.0
	if s.Minimum != nil {
		low = *s.Minimum
	}
	if s.Maximum != nil {
		high = *s.Maximum
	}
	x := oneOf(g, []float64{low, high, math.Min(low+1, high), low + g.Float64()*(high-low), low - 1, high + 1,
		math.Min(high, low+18)})
	if whole {
		return int64(x)
	}
	return math.Round(x*100) / 100
}

func (g *inventor) list(s *base.Schema, name string) any {
	n := g.IntN(3)
	if s.MinItems != nil {
		n += int(*s.MinItems)
	}
	if s.MaxItems != nil {
		n = min(n, int(*s.MaxItems))
	}
	out := []any{}
	for range n {
		out = append(out, g.value(s.Items.A, strings.TrimSuffix(name, "s")))
	}
	return out
}

func (g *inventor) object(s *base.Schema) any {
	out := map[string]any{}
	if s.Properties != nil {
		for name, p := range s.Properties.FromOldest() {
			if slices.Contains(s.Required, name) && (g.honest || !g.once(40)) || g.once(2) {
				out[name] = g.value(p, name)
			}
		}
	}
	if s.AdditionalProperties != nil && s.AdditionalProperties.IsA() {
		for range g.IntN(3) {
			out[oneOf(g, words)] = g.value(s.AdditionalProperties.A, "")
		}
	}
	if !g.honest && g.once(30) {
		out[oneOf(g, words)] = oneOf(g, spoiled)
	}
	return out
}

var words = []string{"swim", "blue", "Nuno Reis", "first-certification", "general-open", "Europe/Lisbon", "a",
	"José \"Zé\" O'Neil", "x;y,z", "深い", "🤿", "planning", "hover", "<b>"}

// references says which collection a member's id is from.
var references = map[string]string{"person": "people", "instructor": "people", "seen_by": "people",
	"witnessed_by": "people", "counted_by": "people",
	"syllabus": "syllabuses", "copy_of": "syllabuses", "course": "courses", "site": "sites",
	"session": "sessions", "group": "groups",
	"enrolment": "enrolments", "participant": "participants", "dive": "dives", "outing": "outings",
	"given_by": "people", "leave_out": "participants", "guest": "outing-guests", "start": "starts",
	"time_in": "starts", "evidence": "attempts", "subject": "enrolments"}

func (g *inventor) text(s *base.Schema, name string) any {
	switch {
	case s.Format == "uuid":
		if kind := references[strings.TrimSuffix(name, "_id")]; kind != "" {
			return g.id(kind)
		}
		return newID()
	case s.Format == "date":
		return today.AddDate(0, 0, g.IntN(60)-30).Format(time.DateOnly)
	case s.Format == "date-time":
		return saturday.Add(time.Duration(g.IntN(14*24*60)-10000) * time.Minute).Format(time.RFC3339)
	case strings.Contains(s.Pattern, "T"):
		return today.Add(time.Duration(g.IntN(14*24)) * time.Hour).Format("2006-01-02T15:04")
	case strings.HasPrefix(s.Pattern, "^[+-]"):
		return oneOf(g, []string{"+01:00", "+00:00", "-12:00"})
	}
	return oneOf(g, words)
}

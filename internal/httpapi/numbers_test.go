package httpapi_test

import (
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"
)

// member is a place of a body: the names that lead there, the first item of a
// list as "0", and "|n" for the nth of the schemas that it may have.
type member []string

// pointer returns where the member stands in a body, as RFC 6901 has it.
func (m member) pointer() (out string) {
	for _, name := range m {
		if !strings.HasPrefix(name, "|") {
			out += "/" + name
		}
	}
	return out
}

// members returns the places of a schema that a condition picks.
func members(p *base.SchemaProxy, at member, picks func(name string, s *base.Schema) bool) (out []member) {
	if p == nil || len(at) > 12 {
		return nil
	}
	s, name := p.Schema(), ""
	if len(at) > 0 {
		name = at[len(at)-1]
	}
	if picks(name, s) {
		out = append(out, slices.Clone(at))
	}
	for i, one := range s.OneOf {
		out = append(out, members(one, append(at, "|"+strconv.Itoa(i)), picks)...)
	}
	for name, below := range s.Properties.FromOldest() {
		out = append(out, members(below, append(at, name), picks)...)
	}
	if s.Items != nil && s.Items.IsA() {
		out = append(out, members(s.Items.A, append(at, "0"), picks)...)
	}
	return out
}

// with returns a body like the example in which one member has a value.
func (g *inventor) with(p *base.SchemaProxy, example any, at member, value any) any {
	if len(at) == 0 {
		return value
	}
	s := p.Schema()
	if which, is := strings.CutPrefix(at[0], "|"); is {
		i, _ := strconv.Atoi(which)
		return g.with(s.OneOf[i], nil, at[1:], value)
	}
	if s.Items != nil && s.Items.IsA() {
		list, _ := example.([]any)
		var first any
		if len(list) > 0 {
			first = list[0]
		}
		return []any{g.with(s.Items.A, first, at[1:], value)}
	}
	out, is := example.(map[string]any)
	if !is {
		out = map[string]any{}
		for _, name := range s.Required {
			out[name] = g.value(s.Properties.GetOrZero(name), name)
		}
	}
	out[at[0]] = g.with(s.Properties.GetOrZero(at[0]), out[at[0]], at[1:], value)
	return out
}

// asked sends a body with one member set. Ids that the example chooses are new,
// so that nothing is a repetition.
func (g *inventor) asked(t *testing.T, c *client, op *operation, at member, value any) answer {
	t.Helper()
	kind := strings.Split(op.path, "/")[2]
	content := op.RequestBody.Content.First().Value().Schema
	made := g.with(content, op.example(t), at, value)
	if top, is := made.(map[string]any); is && top["id"] != nil && !slices.Equal(at, member{"id"}) {
		top["id"] = newID()
	}
	text, err := json.Marshal(made)
	require.NoError(t, err)
	return op.send(c.on(t), op.asking(map[string]string{"id": g.id(kind)}), string(text), op.versioned()...)
}

func newInventor(w *season) *inventor {
	return &inventor{Rand: rand.New(rand.NewPCG(1, 2)), ids: w.everyID(), honest: true}
}

// JSON Schema counts 9.0, 9e0 and 1e1 as integers (2020-12, Core 4.2.3). Whatever
// the operation makes of the figure, it takes it as what it is, or refuses it as
// out of range; so for every whole number of every body.
func TestAWholeNumberIsOneHoweverItIsWritten(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	g := newInventor(w)
	n := 0
	every(t, func(op *operation) bool { return op.takesJSON() }, func(t *testing.T, op *operation) {
		for _, at := range members(op.RequestBody.Content.First().Value().Schema, nil,
			func(_ string, s *base.Schema) bool {
				return slices.Contains(s.Type, "integer")
			}) {
			n++
			for _, written := range []string{"1.0", "9.0", "9e0", "1e1", "0.9e1", "90E-1"} {
				a := g.asked(t, w.boss, op, at, json.Number(written))
				require.Less(t, a.status, 500, "%s %s: %s", written, at.pointer(), a.text)
				require.Empty(t, a.findingsAt(at.pointer(), "whole number"), "%s %s: %s", written, at.pointer(),
					a.text)
			}
			for _, written := range []string{"99999999999999999999", "1e20", "-1e300", "1e999", "1e-999",
				"9.5"} {
				a := g.asked(t, w.boss, op, at, json.Number(written)).refused(http.StatusBadRequest,
					"invalid_request")
				require.NotRegexp(t, `json:|strconv|float64|\bGo\b|unmarshal`, string(a.text), "%s %s", written,
					at.pointer())
				require.NotEmpty(t, a.findingsAt(at.pointer(), ""), "%s %s: %s", written, at.pointer(), a.text)
			}
		}
	})
	require.Greater(t, n, 20, "the walk found them")
}

// findingsAt returns the messages of a problem that point at a place and have
// these words.
func (a answer) findingsAt(pointer, words string) (out []string) {
	a.t.Helper()
	if a.status < http.StatusBadRequest {
		return nil
	}
	for _, f := range a.list("findings") {
		if said := f["message"].(string); f["pointer"] == pointer && strings.Contains(said, words) {
			out = append(out, said)
		}
	}
	return out
}

// What was asked with 9.0 is what is asked with 9: it is stored, and answered, as
// 9, and a repetition in the other writing is the same request.
func TestAWholeNumberIsStoredAsItIs(t *testing.T) {
	w := newSeason(t, open(t))
	write := func(places, id string) answer {
		return w.manager.post("/v1/courses", `{"id": "`+id+`", "title": "July", "syllabus_id": "`+w.syllabus+
			`", "starts_on": "2026-07-03",
			"ends_on": "2026-07-05", "places": `+places+`}`)
	}
	for places, want := range map[string]float64{"9.0": 9, "9e0": 9, "1e1": 10, "120e-1": 12} {
		id := newID()
		require.Equal(t, want, write(places, id).want(http.StatusCreated).at("places"), places)
		write(strconv.FormatFloat(want, 'f', -1, 64), id).want(http.StatusOK)
	}
}

// The two UUIDs that mean "none" (RFC 9562, 5.9 and 5.10) name nothing, so
// nobody's choice of an id is one of them.
func TestNobodyChoosesAnIDThatMeansNone(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	g := newInventor(w)
	n := 0
	every(t, func(op *operation) bool { return op.takesJSON() && op.OperationId != "sendBatch" },
		func(t *testing.T, op *operation) {
			for _, at := range members(op.RequestBody.Content.First().Value().Schema, nil,
				func(name string, s *base.Schema) bool {
					return name == "id" && s.Format == "uuid"
				}) {
				n++
				for _, none := range []string{"00000000-0000-0000-0000-000000000000",
					"ffffffff-ffff-ffff-ffff-ffffffffffff"} {
					a := g.asked(t, w.boss, op, at, none).refused(http.StatusBadRequest, "invalid_request")
					require.NotEmpty(t, a.findingsAt(at.pointer(), `means "none"`), "%s", a.text)
				}
				a := g.asked(t, w.boss, op, at, newID())
				require.Empty(t, a.findingsAt(at.pointer(), ""), "%s", a.text)
			}
		})
	require.Greater(t, n, 30, "the walk found them")
}

// A whole number in an address is refused or taken, however it is written.
func TestAWholeNumberOfAnAddressIsNoDefect(t *testing.T) {
	w := newSeason(t, open(t))
	g, n := newInventor(w), 0
	every(t, all, func(t *testing.T, op *operation) {
		kind := strings.Split(op.path, "/")[2]
		for _, p := range op.Parameters {
			s := p.Schema.Schema()
			if p.In == "header" || !slices.Contains(s.Type, "integer") {
				continue
			}
			n++
			for _, written := range []string{"1e0", "99999999999999999999", "1e999", "9.5"} {
				with := map[string]string{"id": g.id(kind)}
				to := op.address(with)
				switch {
				case p.In == "path":
					with[p.Name] = written
					to = op.address(with)
				case strings.Contains(to, "?"):
					to += "&" + p.Name + "=" + written
				default:
					to += "?" + p.Name + "=" + written
				}
				a := op.send(w.boss.on(t), to, op.example(t), op.versioned()...)
				require.Less(t, a.status, 500, "%s: %s", a.asked, a.text)
			}
		}
	})
	require.Greater(t, n, 10, "the walk found them")
}

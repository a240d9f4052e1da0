package httpapi_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/scenetest"
)

// What people and programs get wrong most: each is a clear problem of the 4xx
// kind, and nothing is changed by it.
func TestBadInputIsRefusedAndChangesNothing(t *testing.T) {
	here := open(t)
	w := newSeason(t, here)
	w.Clock(saturday)
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	dive, rated := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).ids()[0], newID()
	w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": rated, "participant_id": w.part(w.confined, w.sofia), "in_at": at(saturday),
			"cylinder_rating": of(207, "bar")}}}))
	sessions, checks := "/v1/courses/"+w.course+"/sessions", "/v1/sessions/"+w.confined+"/gas-checks"
	plan := func(starts, ends string) body {
		return body{"kind": "theory", "title": "T", "starts_local": starts, "ends_local": ends}
	}
	check := func(reading any) body {
		return body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"reading": reading, "witnessed_at": at(saturday)}}}
	}
	ahead := body{"visibility": body{"value": 2, "unit": "m"},
		"witnessed_at": at(saturday.Add(6 * time.Minute))}
	big := `{"name": "` + strings.Repeat("x", 10<<20) + `"}`
	before := w.everyRow()
	for _, c := range []struct {
		what   string
		answer func() answer
		status int
		code   string
	}{
		{"an unknown member", func() answer {
			return w.manager.post("/v1/people",
				body{"name": "Nuno", "called": "Nuno"})
		}, 400, "invalid_request"},
		{"a unit of another quantity",
			func() answer {
				return w.instructor.post(checks,
					check(body{"value": 20, "unit": "m"}))
			}, 400, "invalid_request"},
		{"a negative pressure", func() answer {
			return w.instructor.post(checks,
				check(body{"value": -5, "unit": "bar"}))
		}, 400, "invalid_request"},
		{"a pressure as a word", func() answer { return w.instructor.post(checks, check("plenty")) }, 400,
			"invalid_request"},
		{"a session that ends before it starts",
			func() answer {
				return w.manager.post(sessions,
					plan("2026-06-06T12:00", "2026-06-06T11:00"))
			}, 400, "invalid_request"},
		// Lisbon, 29 March 2026: clocks go from 01:00 to 02:00 (IANA time zone database).
		{"a time that the clock change skips",
			func() answer {
				return w.manager.post(sessions,
					plan("2026-03-29T01:30", "2026-03-29T03:30"))
			}, 400, "invalid_request"},
		// Lisbon, 25 October 2026: clocks go from 02:00 back to 01:00.
		{"a time that the clock change doubles",
			func() answer {
				return w.manager.post(sessions,
					plan("2026-10-25T01:30", "2026-10-25T03:30"))
			}, 400, "invalid_request"},
		{"a day that is not in the calendar",
			func() answer {
				return w.manager.post(sessions,
					plan("2026-02-30T09:00", "2026-02-30T10:00"))
			}, 400, "invalid_request"},
		{"seen six minutes from now",
			func() answer {
				return w.assistant.post("/v1/sessions/"+w.confined+"/conditions",
					ahead)
			}, 400, "invalid_request"},
		{"ten megabytes", func() answer { return w.manager.post("/v1/people", big) }, 413, "too_large"},
		{"JSON that breaks off", func() answer { return w.manager.post("/v1/people", `{"name": "Nun`) }, 400,
			"invalid_request"},
		{"an id of nothing", func() answer { return w.manager.get("/v1/people/" + newID()) }, 404, "not_found"},
		{"a stale version", func() answer {
			return w.manager.call(http.MethodPatch, "/v1/sessions/"+w.confined, body{"title": "P"}, "If-Match",
				`"1"`)
		}, 412, "stale_version"},
		{"no version", func() answer {
			return w.manager.call(http.MethodPatch, "/v1/sessions/"+w.confined,
				body{"title": "P"})
		}, 428, "version_required"},
		{"a used id with another body", func() answer {
			return w.manager.post("/v1/sites",
				body{"id": w.pool, "name": "X", "kind": "open", "water": "salt",
					"max_depth": body{"value": 3, "unit": "m"}, "emergency": "112"})
		}, 409, "id_reused"},
		{"a list in Latin-1", func() answer {
			return importing(w.manager,
				"name,birth_on\nJos\xe9,1990-01-01\n")
		}, 400, "bad_list"},
	} {
		c.answer().refused(c.status, c.code)
		require.Equal(t, before, w.everyRow(), "%s changed something", c.what)
	}
	// Impossible pressures, over 350 bar or 1.5 times the rating of 207 bar, are
	// one entry's refusal among many.
	for _, reading := range []body{of(351, "bar"), of(5100, "psi"), of(311, "bar"), of(4510, "psi")} {
		a := w.instructor.post(checks, check(reading)).want(http.StatusOK)
		require.Equal(t, []any{"refused", "invalid_request", "/items/0/reading"},
			[]any{a.at("items.0.status"), a.at("items.0.problem.code"),
				a.at("items.0.problem.findings.0.pointer")})
	}
	overfull := w.everybody(10, 20)
	overfull["divers"].([]body)[2]["start"] = of(348.5, "bar") // 1.5 times 232 bar is 348
	f := w.instructor.post("/v1/sessions/"+w.open+"/plans", overfull).refused(http.StatusBadRequest,
		"invalid_request").by("planning.not_possible")
	require.Equal(t, []any{"/divers/2/start", 348.0, 348.5},
		[]any{f["pointer"], f["limit"].(body)["value"], f["found"].(body)["value"]})
	require.Equal(t, before, w.everyRow())
	// A phone without coverage brings what was seen: kept, and pointed out.
	sent := phone{season: w, of: w.instructor, name: "hers"}.send(saturday.Add(time.Hour),
		entry("gas_check", w.confined,
			body{"participant_id": w.part(w.confined, w.sofia), "reading": of(311, "bar"),
				"witnessed_at": at(saturday)}))
	require.Equal(t, "recorded", sent.at("items.0.status"))
	require.Contains(t, sent.rules("items.0.findings"), "training.above_rating")
}

// Two centres in one database: whatever is asked about a thing of the other, the
// answer is that there is none, word for word as for an id that names nothing.
// The contract says which kinds of things there are: oneOfEach has to have all.
func TestNothingOfAnotherCentreIsFound(t *testing.T) {
	here := open(t)
	there := newSeason(t, openIn(t, scenetest.In(t, here.DB)))
	ids := there.oneOfEach()
	before := there.everyRow()
	every(t, func(op *operation) bool { return strings.Contains(op.path, "{id}") },
		func(t *testing.T, op *operation) {
			kind := strings.Split(op.path, "/")[2]
			require.NotEmpty(t, ids[kind], "no %s of another centre to ask for", kind)
			none := op.send(here.boss.on(t), op.asking(nil), op.example(t), op.versioned()...)
			for _, foreign := range ids[kind] {
				a := op.send(here.boss.on(t), op.asking(map[string]string{"id": foreign}), op.example(t),
					op.versioned()...).refused(http.StatusNotFound, "not_found")
				require.Equal(t, none.at("detail"), a.at("detail"))
			}
		})
	// A convention is named by its code; gestures are the same everywhere.
	every(t, func(op *operation) bool { return strings.HasPrefix(op.path, "/v1/conventions/{code}") },
		func(t *testing.T, op *operation) {
			a := op.send(here.boss.on(t), op.asking(map[string]string{"code": ids["conventions"][0]}),
				op.example(t), op.versioned()...).refused(http.StatusNotFound, "not_found")
			none := op.send(here.boss.on(t), op.asking(nil), op.example(t), op.versioned()...)
			require.Equal(t, none.at("detail"),
				strings.ReplaceAll(a.at("detail").(string), ids["conventions"][0], "of_nothing"))
		})
	here.boss.get("/v1/conventions/digits_bar/differences?known="+
		ids["conventions"][0]).refused(http.StatusNotFound, "not_found")
	require.Equal(t, before, there.everyRow(), "nothing was changed")
}

// A list narrowed to something of another centre is as empty as one narrowed to
// an id that names nothing.
func TestNothingOfAnotherCentreIsListed(t *testing.T) {
	w := newSeason(t, open(t))
	own := w.everyID()
	ids := newSeason(t, openIn(t, scenetest.In(t, w.DB))).oneOfEach()
	narrowed := func(op *operation) (out []string) {
		for _, p := range op.Parameters {
			if p.In == "query" && len(referring(p.Schema, "/"+p.Name)) > 0 {
				out = append(out, p.Name)
			}
		}
		return out
	}
	every(t, func(op *operation) bool { return len(narrowed(op)) > 0 }, func(t *testing.T, op *operation) {
		for _, name := range narrowed(op) {
			ask := func(id string) (int, string) {
				to := op.address(map[string]string{"id": oneOrNone(own[strings.Split(op.path, "/")[2]])})
				query := url.Values{name: {id}}
				for _, p := range op.Parameters {
					if p.In == "query" && p.Name != name && p.Required != nil && *p.Required {
						query.Set(p.Name, p.Schema.Schema().Examples[0].Value)
					}
				}
				a := w.boss.on(t).get(to + "?" + query.Encode())
				if a.status == http.StatusOK {
					require.Empty(t, a.ids(), name)
					return a.status, ""
				}
				return a.status, strings.ReplaceAll(a.at("detail").(string), id, "")
			}
			status, detail := ask(foreign(t, "/"+name, ids))
			noneStatus, noneDetail := ask(newID())
			require.Equal(t, []any{noneStatus, noneDetail}, []any{status, detail}, name)
		}
	})
}

func oneOrNone(ids []string) string {
	if len(ids) > 0 {
		return ids[0]
	}
	return newID()
}

// oneOfEach gives ids of every kind of thing that an address or a body may name,
// by the collection that they are read in.
func (w *season) oneOfEach() map[string][]string {
	w.t.Helper()
	ids := w.everyID()
	w.Clock(saturday)
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	w.Clock(saturday.Add(time.Hour))
	person, sign := "/v1/people/"+w.student.person.String(), newID()
	dive := w.instructor.get("/v1/sessions/" + w.confined + "/dives").want(http.StatusOK).ids()[0]
	ids["starts"], ids["attempts"] = []string{newID()}, []string{w.swum(saturday)}
	w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": ids["starts"][0], "participant_id": w.part(w.confined, w.sofia),
			"in_at": at(saturday)}}}))
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/sign-offs",
		body{"items": []body{{"id": sign, "enrolment_id": w.sofia, "skill": "swim"}}}))
	w.credit(w.tiago, true)
	phone{season: w, of: w.assistant, name: "his"}.send(saturday.Add(time.Hour),
		entry("gas_check", w.confined,
			body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true,
				"witnessed_at": at(saturday)}))
	ids["unfit-marks"] = []string{w.assistant.post(person+"/unfit-marks",
		body{"unfit_on": "2026-06-07"}).made()}
	ids["outing-guests"] = []string{w.assistant.post("/v1/outings/"+ids["outings"][0]+"/guests",
		body{"name": "Skipper", "part": "skipper"}).made()}
	ids["completions"] = []string{w.instructor.post("/v1/enrolments/"+w.tiago+"/completions", nil).made()}
	ids["conventions"] = []string{w.instructor.post("/v1/conventions",
		house(body{"code": "other_house"})).want(http.StatusCreated).at("code").(string)}
	ids["sign-offs"] = []string{sign}
	for kind, path := range map[string]string{"papers": person + "/papers", "entries": "/v1/sessions/" +
		w.confined + "/entries", "credits": "/v1/enrolments/" + w.tiago + "/credits",
		"decisions":    "/v1/decisions?subject_type=enrolment&subject_id=" + w.sofia,
		"held-entries": "/v1/held-entries?state=recorded", "tokens": "/v1/tokens", "briefings": "/v1/sessions/" + w.confined + "/briefings"} {
		ids[kind] = w.manager.get(path).want(http.StatusOK).ids()
	}
	return ids
}

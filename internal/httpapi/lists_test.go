package httpapi_test

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"
)

// talks is a course of which the syllabus has none of what it may go without, with
// a session in the bay: Sofia, and the instructor and the assistant with her.
func (w *season) talks() (enrolment, session string, plan body) {
	w.t.Helper()
	content := body{"code": "talks", "title": "Talks", "level": "entry_level", "min_age": 10,
		"signer_papers": []any{}, "theory": []any{},
		"skills": []body{{"code": "listen", "title": "Listen", "setting": "theory", "area": "planning",
			"proof":     "witnessed",
			"criterion": body{"text": "Listens."}}}, "dives": []any{}}
	y := w.manager.post("/v1/syllabuses", body{"title": "Talks", "content": content}).made()
	course := w.manager.post("/v1/courses",
		body{"title": "Talks", "syllabus_id": y, "starts_on": "2026-06-05", "ends_on": "2026-06-09"}).made()
	enrolment = w.manager.post("/v1/courses/"+course+"/enrolments", body{"person_id": w.student.person}).made()
	session = w.manager.post("/v1/courses/"+course+"/sessions",
		body{"kind": "confined", "title": "Pool", "site_id": w.pool,
			"starts_local": "2026-06-08T09:00", "ends_local": "2026-06-08T12:00"}).made()
	group := w.group(session)
	w.manager.post("/v1/sessions/"+session+"/participants",
		body{"role": "student", "enrolment_id": enrolment, "group_id": group}).want(http.StatusCreated)
	var divers []body
	for _, p := range w.manager.get("/v1/sessions/" + session +
		"/participants").want(http.StatusOK).list("items") {
		divers = append(divers, body{"participant_id": p["id"],
			"cylinder": body{"water_volume": of(12, "L"), "working_pressure": of(200, "bar")},
			"start":    of(200, "bar"), "oxygen": of(21, "percent")})
	}
	return enrolment, session,
		body{"dive": body{"depth": of(4, "m"), "planned_time": of(20, "min")}, "divers": divers}
}

// A course may be without training dives, skills, theory or papers of a signer.
// Whoever takes part in it is planned for, there and elsewhere, on its days and
// those about it, and is progressed, recorded and completed like anybody.
func TestACourseWithoutTrainingDivesIsACourse(t *testing.T) {
	w := newSeason(t, open(t))
	enrolment, session, plan := w.talks()
	followed := func() {
		t.Helper()
		w.instructor.post("/v1/sessions/"+session+"/plans", plan).want(http.StatusCreated)
		w.instructor.post("/v1/sessions/"+w.open+"/plans", w.everybody(10, 20)).want(http.StatusCreated)
		for _, day := range []string{"2026-06-06", "2026-06-07", "2026-06-08", "2026-06-09"} {
			for _, who := range []*client{w.instructor, w.assistant, w.student} {
				w.manager.get("/v1/people/" + who.person.String() + "/days/" + day +
					"/dives").want(http.StatusOK)
				w.manager.get("/v1/people/" + who.person.String() + "/days/" + day).want(http.StatusOK)
			}
		}
		opening := w.instructor.post("/v1/sessions/"+session+"/open?dry_run=true", nil)
		require.Less(t, opening.status, 500, "%s", opening.text)
		w.instructor.get("/v1/enrolments/" + enrolment + "/progress").want(http.StatusOK)
		w.instructor.get("/v1/enrolments/" + enrolment + "/record").want(http.StatusOK)
	}
	followed()
	require.Zero(t, w.Count(`SELECT 1 FROM syllabus_version WHERE content::text ~ '": null'`),
		"no list is stored as null")
	// As the release before this one stored it, until the migration.
	w.Super(`UPDATE syllabus_version SET content = replace(content::text, '[]', 'null')::jsonb`)
	followed()
	done := w.instructor.post("/v1/enrolments/"+enrolment+"/complete", body{})
	require.Less(t, done.status, 500, "%s", done.text)
}

// Every list of every body may be empty, where the contract lets it, and absent
// where it is not asked for. That is no defect, and none is kept as null.
func TestEveryListMayBeEmptyOrAbsent(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	g, n := newInventor(w), 0
	every(t, func(op *operation) bool { return op.takesJSON() }, func(t *testing.T, op *operation) {
		for _, at := range members(op.RequestBody.Content.First().Value().Schema, nil,
			func(_ string, s *base.Schema) bool {
				return slices.Contains(s.Type, "array") || s.AdditionalProperties != nil &&
					s.AdditionalProperties.IsA()
			}) {
			for _, none := range []any{[]any{}, map[string]any{}, nil} {
				n++
				a := g.asked(t, w.boss, op, at, none)
				require.Less(t, a.status, 500, "%v at %s: %s", none, at.pointer(), a.text)
			}
		}
	})
	require.Greater(t, n, 100, "the walk found them")
	super, err := pgx.Connect(t.Context(), w.DB.SuperURL)
	require.NoError(t, err)
	defer super.Close(context.Background())
	rows, err := super.Query(t.Context(),
		`SELECT format('%I.%I', c.table_name, c.column_name) FROM information_schema.columns c
		JOIN information_schema.tables t USING (table_schema, table_name)
		WHERE c.table_schema = 'public' AND c.data_type = 'jsonb' AND t.table_type = 'BASE TABLE'`)
	require.NoError(t, err)
	columns, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	for _, column := range columns {
		table, name, _ := strings.Cut(column, ".")
		require.Zero(t, w.Count(`SELECT 1 FROM `+table+` WHERE jsonb_typeof(`+name+`) = 'null'`),
			"%s holds a null where a value is", column)
	}
	require.Zero(t, w.Count(`SELECT 1 FROM syllabus_version WHERE content::text ~ '"(dives|skills|theory|signer_papers|measures)": null'`))
}

// What one session, person or enrolment bounds is read whole and paged at the edge: its
// pages are the list, whatever the size of a page.
func TestShortListsHavePagesToo(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	for _, kind := range []string{"insurance", "waiver"} {
		w.manager.post("/v1/people/"+w.student.person.String()+"/papers", body{"kind": kind,
			"issued_on": "2026-01-10", "valid_until": "2027-01-09"}).made()
	}
	several := 0
	for _, list := range []string{
		"/v1/sessions/" + w.confined + "/participants?include=person&", "/v1/sessions/" + w.confined +
			"/groups?",
		"/v1/sessions/" + w.open + "/dives?", "/v1/sessions/" + w.open + "/briefings?",
		"/v1/sessions/" + w.open + "/sign-offs?", "/v1/sessions/" + w.open + "/incidents?",
		"/v1/people/" + w.student.person.String() + "/papers?",
		"/v1/people/" + w.student.person.String() + "/corrections?",
		"/v1/people/" + w.student.person.String() + "/unfit-marks?",
		"/v1/enrolments/" + w.sofia + "/credits?", "/v1/enrolments/" + w.sofia + "/sign-offs?",
		"/v1/enrolments/" + w.sofia + "/completions?", "/v1/enrolments/" + w.sofia + "/theory-results?",
		"/v1/syllabuses/" + w.syllabus + "/versions?", "/v1/conventions?",
	} {
		whole := w.manager.get(strings.TrimRight(list, "?&")).want(http.StatusOK)
		require.Nil(t, whole.at("next_cursor"), list)
		var paged []body
		for cursor := ""; ; {
			a := w.manager.get(list + "limit=1" + cursor).want(http.StatusOK)
			require.LessOrEqual(t, len(a.list("items")), 1, list)
			paged = append(paged, a.list("items")...)
			next := a.at("next_cursor")
			require.Equal(t, next != nil, strings.Contains(a.header.Get("Link"), `rel="next"`), list)
			if next == nil {
				break
			}
			cursor = "&cursor=" + url.QueryEscape(next.(string))
		}
		require.ElementsMatch(t, whole.list("items"), paged, list)
		if len(paged) > 1 {
			several++
			require.Equal(t, whole.list("items"), paged, "%s keeps its order", list)
		}
	}
	require.GreaterOrEqual(t, several, 4, "lists of more than one page were read")
}

// The cursor of a short list names the last item of its page.
func TestACursorOfAnItemThatIsGoneIsRefused(t *testing.T) {
	w := newSeason(t, open(t))
	list := "/v1/sessions/" + w.confined + "/participants"
	sofia := w.part(w.confined, w.sofia)
	before := strconv.Itoa(slices.Index(w.manager.get(list).want(http.StatusOK).ids(), sofia) + 1)
	cursor := "?limit=1&cursor=" + url.QueryEscape(w.manager.get(list+"?limit="+before).want(http.StatusOK).
		at("next_cursor").(string))
	w.manager.get(list + cursor).want(http.StatusOK)
	w.manager.get("/v1/sessions/"+w.open+"/participants"+cursor).refused(http.StatusBadRequest, "bad_cursor")
	w.manager.delete("/v1/participants/"+sofia, "If-Match",
		w.manager.get("/v1/participants/"+sofia).want(http.StatusOK).header.Get("ETag")).want(http.StatusOK)
	w.manager.get(list+cursor).refused(http.StatusBadRequest, "bad_cursor")
}

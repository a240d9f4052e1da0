package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"
)

// How many sessions the instructor teaches on one day, and with how many students.
const (
	sessions = 4
	students = 8
)

// testCentre is a centre with one instructor and a day's sessions.
type testCentre struct {
	ctx        context.Context
	base       string   // of the instance on which all but the live view is measured
	bases      []string // of all instances
	manager    string   // tokens
	instructor string
	who        uuid.UUID // the instructor
	fixed      map[uuid.UUID]bool
	tracer     *tracer
	client     *http.Client
	course     string
	site       string
}

type object = map[string]any

func newTestCentre(ctx context.Context, bases []string, centre, manager uuid.UUID, token string,
	t *tracer) *testCentre {
	return &testCentre{ctx: ctx, base: bases[0], bases: bases, manager: token,
		fixed: map[uuid.UUID]bool{centre: true, manager: true}, tracer: t,
		client: &http.Client{Transport: &http.Transport{MaxIdleConns: 64, MaxIdleConnsPerHost: 64}}}
}

func (s *testCentre) send(token, method, path string, body any) (object, error) {
	var content io.Reader
	media := "application/json"
	switch b := body.(type) {
	case nil:
	case string:
		content, media = strings.NewReader(b), "text/csv"
	default:
		text, err := json.Marshal(b)
		if err != nil {
			return nil, err
		}
		content = bytes.NewReader(text)
	}
	r, err := http.NewRequestWithContext(s.ctx, method, s.base+path, content)
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+token)
	if content != nil {
		r.Header.Set("Content-Type", media)
	}
	resp, err := s.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer func() { _ = resp.Body.Close() }()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		return nil, err
	}
	if resp.StatusCode >= http.StatusMultipleChoices {
		return nil, fmt.Errorf("%s %s: %d %s", method, path, resp.StatusCode, text)
	}
	var out object
	if err := json.Unmarshal(text, &out); err != nil {
		return nil, err
	}
	if _, decided := out["decision"]; decided {
		out, _ = out["result"].(object)
	}
	return out, nil
}

// must notes the first error and goes on; prepare returns it.
func (s *testCentre) must(err *error, token, method, path string, body any) object {
	if *err != nil {
		return object{}
	}
	var out object
	if out, *err = s.send(token, method, path, body); out == nil {
		out = object{}
	}
	if u, bad := uuid.Parse(fmt.Sprint(out["id"])); bad == nil &&
		counted[u.String()[:len(signedPrefix)]] == "" {
		s.fixed[u] = true
	}
	return out
}

func text(o object, name string) string { return fmt.Sprint(o[name]) }

// prepare sets up the centre, traces one request of each kind, and returns the jobs.
func (s *testCentre) prepare(o Options) ([]*job, error) {
	var err error
	s.must(&err, s.manager, "POST", "/v1/centre/set-clock", object{"now_at": "2027-06-05T08:00:00Z"})
	s.crew(&err)
	syllabus := text(s.must(&err, s.manager, "POST", "/v1/syllabuses",
		object{"title": "First", "built_in": "first-certification"}), "id")
	course := object{"title": "Load", "syllabus_id": syllabus, "starts_on": "2027-05-01",
		"ends_on": "2027-06-06"}
	s.course = text(s.must(&err, s.manager, "POST", "/v1/courses", course), "id")
	pool := object{"name": "Pool", "kind": "confined", "water": "fresh",
		"max_depth": object{"value": 5, "unit": "m"}, "emergency": "112"}
	s.site = text(s.must(&err, s.manager, "POST", "/v1/sites", pool), "id")
	s.plan(&err, s.students(&err, sessions*students))
	if err != nil {
		return nil, err
	}
	jobs := s.jobs()
	signs := 0
	for _, j := range jobs {
		if j.uses {
			for _, clients := range o.Clients {
				signs += o.Rounds * 2 * clients * j.share(o, clients)
			}
			signs += warmUps + 1
		}
	}
	if err := s.enrol(signs); err != nil {
		return nil, err
	}
	return jobs, s.trace(jobs)
}

func (s *testCentre) crew(err *error) {
	who := s.must(err, s.manager, "POST", "/v1/people",
		object{"name": "Ines Instructor", "birth_on": "1985-01-01", "roles": []string{"instructor"}})
	for _, kind := range []string{"teaching_status", "first_aid", "insurance"} {
		s.must(err, s.manager, "POST", "/v1/people/"+text(who, "id")+"/papers",
			object{"kind": kind, "issued_on": "2027-01-01", "valid_until": "2027-12-31"})
	}
	token := s.must(err, s.manager, "POST", "/v1/tokens", object{"person_id": who["id"],
		"scopes": []string{"people:read", "courses:read", "courses:write", "sessions:read", "sessions:write",
			"training:read", "training:write", "sign-offs:write"}})
	s.instructor = text(token, "secret")
	me := s.must(err, s.instructor, "GET", "/v1/me", nil)
	if u, bad := uuid.Parse(text(me, "token_id")); bad == nil {
		s.fixed[u] = true
	}
	if u, bad := uuid.Parse(text(who, "id")); bad == nil {
		s.who = u
	}
}

// students imports a list of students and records their papers.
func (s *testCentre) students(err *error, n int) []string {
	var list strings.Builder
	list.WriteString("name,birth_on\n")
	for i := range n {
		fmt.Fprintf(&list, "Student %04d,1995-05-05\n", i)
	}
	var ids []string
	items, _ := s.must(err, s.manager, "POST", "/v1/people/import", list.String())["items"].([]any)
	for _, x := range items {
		id := text(x.(object), "id")
		s.fixed[uuid.MustParse(id)] = true
		ids = append(ids, id)
		s.must(err, s.manager, "POST", "/v1/people/"+id+"/papers",
			object{"kind": "waiver", "issued_on": "2027-05-01"})
		s.must(err, s.manager, "POST", "/v1/people/"+id+"/papers",
			object{"kind": "medical", "outcome": "nothing_flagged", "issued_on": "2027-05-01"})
	}
	return ids
}

// plan plans the sessions of a day, places students in each, and opens them.
func (s *testCentre) plan(err *error, people []string) {
	day := time.Date(2027, 6, 5, 9, 0, 0, 0, time.UTC)
	for i := range sessions {
		id := numbered(sessionPrefix, i)
		group := s.hold(err, id, day.Add(time.Duration(i)*2*time.Hour), 110*time.Minute)
		at := "/v1/sessions/" + id.String()
		for n := i * students; n < (i+1)*students && *err == nil; n++ {
			enrolment := numbered(enrolmentPrefix, n)
			s.must(err, s.manager, "POST", "/v1/courses/"+s.course+"/enrolments",
				object{"id": enrolment, "person_id": people[n]})
			s.must(err, s.manager, "POST", at+"/participants",
				object{"id": numbered(participantPrefix, n), "role": "student", "enrolment_id": enrolment,
					"group_id": group})
		}
		s.brief(err, id, people[i*students:min((i+1)*students, len(people))])
		s.must(err, s.manager, "POST", at+"/open", object{})
	}
}

// brief briefs a session's students and the instructor; without a briefing the
// session does not open.
func (s *testCentre) brief(err *error, session uuid.UUID, people []string) {
	heard := []object{}
	for _, p := range people {
		heard = append(heard, object{"person_id": p, "how": "said_so"})
	}
	s.must(err, s.instructor, "POST", "/v1/sessions/"+session.String()+"/briefings",
		object{"briefed_at": "2027-06-05T08:00:00Z", "convention": "digits_bar",
			"check_every": object{"value": 2, "unit": "min"},
			"pressures": object{"turn": object{"value": 100, "unit": "bar"},
				"low": object{"value": 60, "unit": "bar"}}, "heard": heard})
}

// hold plans a session with a group of the instructor's, and returns the group's id.
func (s *testCentre) hold(err *error, id uuid.UUID, from time.Time, long time.Duration) (group string) {
	const local = "2006-01-02T15:04"
	session := s.must(err, s.manager, "POST", "/v1/courses/"+s.course+"/sessions",
		object{"id": id, "kind": "confined", "title": "Pool", "site_id": s.site,
			"starts_local": from.Format(local), "ends_local": from.Add(long).Format(local)})
	if u, bad := uuid.Parse(text(session, "outing_id")); bad == nil {
		s.fixed[u] = true
	}
	return text(s.must(err, s.manager, "POST", "/v1/sessions/"+id.String()+"/groups",
		object{"name": "blue", "instructor_id": s.who}), "id")
}

// jobs returns the kinds of request that are measured. Sign-offs come first, while
// the sessions have no gas checks: a session has thousands of them only under load.
func (s *testCentre) jobs() []*job {
	return []*job{
		{name: "sign-off", times: 1, uses: true, request: func(n int) error {
			return s.recorded("/v1/sessions/"+numbered(signingPrefix, n/signers).String()+"/sign-offs",
				object{"id": uuid.New(), "enrolment_id": numbered(signedPrefix, n), "skill": "kit-check"})
		}},
		{name: "gas check", times: 4, request: func(int) error {
			n := rand.IntN(sessions * students)
			return s.recorded("/v1/sessions/"+numbered(sessionPrefix, n/students).String()+"/gas-checks",
				object{"id": uuid.New(), "participant_id": numbered(participantPrefix, n),
					"reading":   object{"value": 150, "unit": "bar"},
					"signalled": object{"value": 150, "unit": "bar"}, "witnessed_at": "2027-06-05T08:00:00Z"})
		}},
		{name: "instructor's day", times: 4, request: func(int) error {
			_, err := s.send(s.instructor, "GET", "/v1/people/"+s.who.String()+"/days/2027-06-05", nil)
			return err
		}},
		s.gasPlan(),
	}
}

// warmUps is how many requests are made before the traced one, so that the service has
// filled its caches.
const warmUps = 3

// trace writes the yardstick of each kind of request.
func (s *testCentre) trace(jobs []*job) error {
	for _, j := range jobs {
		for range warmUps + 1 {
			s.tracer.start()
			if err := j.request(j.used); err != nil {
				return fmt.Errorf("%s: %w", j.name, err)
			}
			fixed := maps.Clone(s.fixed)
			for _, id := range j.stays {
				fixed[id] = true
			}
			j.script = script(s.tracer.stop(), fixed)
			j.used++
		}
	}
	return nil
}

// recorded posts one item, and returns an error unless it is recorded.
func (s *testCentre) recorded(path string, item object) error {
	out, err := s.send(s.instructor, "POST", path, object{"items": []object{item}})
	if err != nil {
		return err
	}
	items, _ := out["items"].([]any)
	if len(items) != 1 || items[0].(object)["status"] != "recorded" {
		return fmt.Errorf("not recorded: %v", items)
	}
	return nil
}

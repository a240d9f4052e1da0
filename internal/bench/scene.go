package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"

	"github.com/google/uuid"
)

// scene is a centre with one instructor who teaches four sessions of eight
// students on one day.
type scene struct {
	ctx        context.Context
	base       string
	manager    string // tokens
	instructor string
	who        uuid.UUID // the instructor
	fixed      map[uuid.UUID]bool
	tracer     *tracer
	client     *http.Client
	course     string
	sessions   []string
	parts      []string // participants, eight for each session
}

type object = map[string]any

func newScene(ctx context.Context, base string, centre, manager uuid.UUID, token string, t *tracer) *scene {
	return &scene{ctx: ctx, base: base, manager: token, fixed: map[uuid.UUID]bool{centre: true, manager: true}, tracer: t,
		client: &http.Client{Transport: &http.Transport{MaxIdleConns: 64, MaxIdleConnsPerHost: 64}}}
}

func (s *scene) send(token, method, path string, body any) (object, error) {
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
	return out, json.Unmarshal(text, &out)
}

// must notes the first error and goes on; prepare tells it in the end.
func (s *scene) must(err *error, token, method, path string, body any) object {
	if *err != nil {
		return object{}
	}
	var out object
	if out, *err = s.send(token, method, path, body); out == nil {
		out = object{}
	}
	if u, bad := uuid.Parse(fmt.Sprint(out["id"])); bad == nil {
		s.fixed[u] = true
	}
	return out
}

func text(o object, name string) string { return fmt.Sprint(o[name]) }

// prepare sets the scene, traces one request of each kind, and gives the jobs.
func (s *scene) prepare(o Options) ([]*job, error) {
	var err error
	s.must(&err, s.manager, "POST", "/v1/centre/set-clock", object{"now_at": "2027-06-05T08:00:00Z"})
	s.crew(&err)
	syllabus := text(s.must(&err, s.manager, "POST", "/v1/syllabuses", object{"title": "First", "built_in": "first-certification"}), "id")
	s.course = text(s.must(&err, s.manager, "POST", "/v1/courses", object{"title": "Load", "syllabus_id": syllabus, "starts_on": "2027-06-05", "ends_on": "2027-06-06"}), "id")
	students := s.students(&err, 32)
	s.plan(&err, students)
	if err != nil {
		return nil, err
	}
	signs := len(o.Clients) * o.Rounds * 2 * (o.Requests + 64)
	if err := s.enrol(signs + 1); err != nil {
		return nil, err
	}
	return s.jobs()
}

func (s *scene) crew(err *error) {
	who := s.must(err, s.manager, "POST", "/v1/people", object{"name": "Ines Instructor", "birth_on": "1985-01-01", "roles": []string{"instructor"}})
	for _, kind := range []string{"teaching_status", "first_aid", "insurance"} {
		s.must(err, s.manager, "POST", "/v1/people/"+text(who, "id")+"/papers", object{"kind": kind, "issued_on": "2027-01-01", "valid_until": "2027-12-31"})
	}
	token := s.must(err, s.manager, "POST", "/v1/tokens", object{"person_id": who["id"],
		"scopes": []string{"people:read", "courses:read", "courses:write", "sessions:read", "sessions:write", "training:read", "training:write", "sign-offs:write"}})
	s.instructor = text(token, "secret")
	me := s.must(err, s.instructor, "GET", "/v1/me", nil)
	if u, bad := uuid.Parse(text(me, "token_id")); bad == nil {
		s.fixed[u] = true
	}
	if u, bad := uuid.Parse(text(who, "id")); bad == nil {
		s.who = u
	}
}

// students takes a list in and puts everybody's papers on record.
func (s *scene) students(err *error, n int) []string {
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
		s.must(err, s.manager, "POST", "/v1/people/"+id+"/papers", object{"kind": "waiver", "issued_on": "2027-05-01"})
		s.must(err, s.manager, "POST", "/v1/people/"+id+"/papers", object{"kind": "medical", "outcome": "nothing_flagged", "issued_on": "2027-05-01"})
	}
	return ids
}

// plan plans four sessions of a day, each with eight students, and opens them.
func (s *scene) plan(err *error, students []string) {
	site := text(s.must(err, s.manager, "POST", "/v1/sites", object{"name": "Pool", "kind": "confined", "water": "fresh", "max_depth": object{"value": 5, "unit": "m"}, "emergency": "112"}), "id")
	for i := range 4 {
		hour := 9 + 2*i
		session := s.must(err, s.manager, "POST", "/v1/courses/"+s.course+"/sessions", object{"kind": "confined", "title": fmt.Sprintf("Pool %d", i+1), "site_id": site,
			"starts_local": fmt.Sprintf("2027-06-05T%02d:00", hour), "ends_local": fmt.Sprintf("2027-06-05T%02d:50", hour+1)})
		id := text(session, "id")
		if u, bad := uuid.Parse(text(session, "outing_id")); bad == nil {
			s.fixed[u] = true
		}
		group := text(s.must(err, s.manager, "POST", "/v1/sessions/"+id+"/groups", object{"name": "blue", "instructor_id": s.who}), "id")
		for k := range 8 {
			if *err != nil {
				return
			}
			e := s.must(err, s.manager, "POST", "/v1/courses/"+s.course+"/enrolments", object{"person_id": students[8*i+k]})
			p := s.must(err, s.manager, "POST", "/v1/sessions/"+id+"/participants", object{"role": "student", "enrolment_id": e["id"], "group_id": group})
			s.parts = append(s.parts, text(p, "id"))
		}
		s.must(err, s.manager, "POST", "/v1/sessions/"+id+"/open", object{})
		s.sessions = append(s.sessions, id)
	}
}

// enrol enrols so many people, whose ids follow one another, to sign off for.
func (s *scene) enrol(n int) error {
	var list strings.Builder
	list.WriteString("name,birth_on\n")
	for i := range n {
		fmt.Fprintf(&list, "Signed %06d,1995-05-05\n", i)
	}
	out, err := s.send(s.manager, "POST", "/v1/people/import", list.String())
	if err != nil {
		return err
	}
	items, _ := out["items"].([]any)
	var wg sync.WaitGroup
	errs := make([]error, 8)
	for w := range errs {
		wg.Go(func() {
			for i := w; i < len(items) && errs[w] == nil; i += len(errs) {
				_, errs[w] = s.send(s.manager, "POST", "/v1/courses/"+s.course+"/enrolments", object{"id": enrolmentID(i), "person_id": items[i].(object)["id"]})
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// jobs traces one request of each kind and makes its yardstick of it.
func (s *scene) jobs() ([]*job, error) {
	gas := &job{name: "gas check", request: func(n int) error {
		i := n % len(s.parts)
		return s.recorded("/v1/sessions/"+s.sessions[i/8]+"/gas-checks", object{"id": uuid.New(), "participant_id": s.parts[i],
			"reading": object{"value": 150, "unit": "bar"}, "signalled": object{"value": 150, "unit": "bar"}, "witnessed_at": "2027-06-05T08:00:00Z"})
	}}
	sign := &job{name: "sign-off", signs: true, request: func(n int) error {
		return s.recorded("/v1/sessions/"+s.sessions[0]+"/sign-offs", object{"id": uuid.New(), "enrolment_id": enrolmentID(n), "skill": "kit-check"})
	}}
	day := &job{name: "instructor's day", request: func(int) error {
		_, err := s.send(s.instructor, "GET", "/v1/people/"+s.who.String()+"/days/2027-06-05", nil)
		return err
	}}
	jobs := []*job{gas, sign, day}
	for _, j := range jobs {
		for range 2 { // the second time everything that is kept is warm
			s.tracer.start()
			if err := j.request(j.used); err != nil {
				return nil, fmt.Errorf("%s: %w", j.name, err)
			}
			j.sql = script(s.tracer.stop(), s.fixed, enrolmentID(j.used))
			j.used++
		}
	}
	return jobs, nil
}

// recorded posts one item, which has to be recorded.
func (s *scene) recorded(path string, item object) error {
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

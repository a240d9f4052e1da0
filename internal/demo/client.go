package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"
)

// story plays the scenario and prints it. Where it cannot go on without a call that
// failed, it panics with stuck, which play recovers.
type story struct {
	ctx      context.Context
	out      io.Writer
	base     string
	scenario *scenario
	centre   uuid.UUID
	people   map[string]uuid.UUID // by first name
	tokens   map[string]string    // by first name
	wrong    []string             // what did not happen as expected
	ids      map[string]string    // the ids of other things, by name
	ends     map[string]float64   // bar at the end of the next dive, where the story sets it, by first name
	skills   []skill
}

type storyStopped struct{ why string }

func newStory(ctx context.Context, out io.Writer, base string, sc *scenario) *story {
	return &story{ctx: ctx, out: out, base: base, scenario: sc, people: map[string]uuid.UUID{},
		tokens: map[string]string{}, ids: map[string]string{}, ends: map[string]float64{}}
}

func (s *story) add(name string, id uuid.UUID, token string) {
	s.people[name] = id
	if token != "" {
		s.tokens[name] = token
	}
}

// object is a JSON object.
type object = map[string]any

// answer is a response of the API.
type answer struct {
	status int
	etag   string
	text   string
	body   object
}

// id returns the id in the body.
func (a answer) id() string { return fmt.Sprint(a.body["id"]) }

// items returns the items of a list.
func (a answer) items() []object { return objects(a.body["items"]) }

// objects returns the objects of a list, none for any other value.
func objects(v any) []object {
	list, _ := v.([]any)
	out := make([]object, 0, len(list))
	for _, x := range list {
		if o, ok := x.(object); ok {
			out = append(out, o)
		}
	}
	return out
}

// found returns the findings of an answer or a problem.
func found(body object) []object { return objects(body["findings"]) }

// send makes one request with a person's token.
func (s *story) send(who, method, path string, body any, header ...string) answer {
	var content io.Reader
	media := "application/json"
	switch b := body.(type) {
	case nil:
	case string:
		content, media = strings.NewReader(b), "text/csv"
	default:
		text, err := json.Marshal(b)
		if err != nil {
			panic(storyStopped{err.Error()})
		}
		content = bytes.NewReader(text)
		if method == http.MethodPatch {
			media = "application/merge-patch+json"
		}
	}
	r, err := http.NewRequestWithContext(s.ctx, method, s.base+path, content)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	r.Header.Set("Authorization", "Bearer "+s.tokens[who])
	if content != nil {
		r.Header.Set("Content-Type", media)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	defer func() { _ = resp.Body.Close() }()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	a := answer{status: resp.StatusCode, etag: resp.Header.Get("ETag"), text: string(text)}
	_ = json.Unmarshal(text, &a.body) // a table is no JSON, and needs none
	if decision, decided := a.body["decision"].(object); decided {
		if a.body, _ = a.body["result"].(object); a.body == nil {
			a.body = decision // of a dry run
		}
	}
	return a
}

// must makes a request that the story cannot go on without.
func (s *story) must(who, method, path string, body any, header ...string) answer {
	a := s.send(who, method, path, body, header...)
	if a.status >= 300 {
		panic(storyStopped{fmt.Sprintf("%s %s as %s: %d %s", method, path, who, a.status, a.text)})
	}
	return a
}

// chapter prints the title of a part of the story, at a time of the centre's clock.
func (s *story) chapter(at, title string) {
	s.must("Mara", http.MethodPost, "/v1/centre/set-clock", object{"now_at": at})
	fmt.Fprintf(s.out, "\n%s\n", title)
}

func (s *story) tell(mark, format string, args ...any) {
	fmt.Fprintf(s.out, "  %s %s\n", mark, fmt.Sprintf(format, args...))
}

// note prints a step that needs no check.
func (s *story) note(format string, args ...any) { s.tell("·", format, args...) }

// accepted makes a request that has to be accepted, and prints the step.
func (s *story) accepted(who, path string, body any, text string) answer {
	a := s.send(who, post, path, body)
	if a.status < 300 {
		s.tell("✓", "%s", text)
		return a
	}
	s.fail("%s: expected to be accepted, was answered %d: %s", text, a.status, a.text)
	return a
}

// refused makes a request that has to be refused with a status, by a rule where one is
// named, and prints the reason.
func (s *story) refused(who, method, path string, body any, status int, rule, text string) answer {
	a := s.send(who, method, path, body)
	if a.status != status || rule != "" && !byRule(a.body, rule) {
		s.fail("%s: expected %d by %s, was answered %d: %s", text, status, rule, a.status, a.text)
		return a
	}
	s.tell("✗", "%s", text)
	s.why(a.body, rule)
	return a
}

// byRule reports whether the findings of a problem include a rule.
func byRule(body object, rule string) bool {
	for _, f := range found(body) {
		if f["rule"] == rule {
			return true
		}
	}
	return false
}

// why prints the findings and their cures.
func (s *story) why(body object, rule string) {
	shown := 0
	told := map[any]bool{}
	for _, f := range found(body) {
		if told[f["message"]] || f["severity"] != "forbidden" && f["rule"] != rule {
			continue
		}
		told[f["message"]] = true
		if shown == 3 {
			fmt.Fprintf(s.out, "      … and more: %d findings in all\n", len(found(body)))
			return
		}
		shown++
		fmt.Fprintf(s.out, "      because: %s\n", f["message"])
		if cures, ok := f["cures"].([]any); ok && len(cures) > 0 {
			fmt.Fprintf(s.out, "      cure:    %s\n", cures[0].(object)["message"])
		}
	}
	if shown == 0 {
		fmt.Fprintf(s.out, "      because: %s\n", body["detail"])
	}
}

// fail notes an unexpected result and goes on.
func (s *story) fail(format string, args ...any) {
	s.wrong = append(s.wrong, fmt.Sprintf(format, args...))
	s.tell("!!", format, args...)
}

// expect notes an unexpected result unless ok.
func (s *story) expect(ok bool, format string, args ...any) {
	if !ok {
		s.fail(format, args...)
	}
}

// recorded checks that all entries of a call were recorded.
func (s *story) recorded(a answer) {
	for _, r := range a.items() {
		if r["status"] != "recorded" {
			s.fail("an entry was %v: %v", r["status"], r["problem"])
		}
	}
}

// play plays all chapters and returns the unexpected results as an error.
func (s *story) play() (err error) {
	defer func() {
		switch p := recover().(type) {
		case nil:
		case storyStopped:
			fmt.Fprintf(s.out, "\n  !! The story cannot go on: %s\n", p.why)
			err = ErrStory
		default:
			panic(p)
		}
	}()
	s.prepare()
	s.plan()
	s.classroomAndPool()
	s.openWater()
	s.finish()
	s.limits()
	if len(s.wrong) > 0 {
		return errors.Join(ErrStory, fmt.Errorf("%d things did not happen as expected", len(s.wrong)))
	}
	return nil
}

// at returns an instant of the weekend: a day of June 2027 and a time in UTC.
func at(day int, clock string) string { return fmt.Sprintf("2027-06-%02dT%s:00Z", day, clock) }

func newID() string { return uuid.Must(uuid.NewV7()).String() }

// later returns the instant some minutes after another.
func later(instant string, minutes int) string {
	t, err := time.Parse(time.RFC3339, instant)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	return t.Add(time.Duration(minutes) * time.Minute).Format(time.RFC3339)
}

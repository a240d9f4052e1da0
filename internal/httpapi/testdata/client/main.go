// Command client plays the weekend course of the demo through a client that was generated from the
// published contract, by typed calls alone: from the first paper to the record that a student shows.
// It reads the scenario of the demo (SCENARIO is its folder), where the service is (SERVER) and whose
// token the manager has (TOKEN) from the environment, and prints a line for each step. The first
// answer that is not the expected one ends it with an error.
package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"time"

	"github.com/google/uuid"
)

// story is what has happened so far, by the first names and titles of the scenario.
type story struct {
	scenario
	ctx        context.Context
	clients    map[string]*ClientWithResponses // by first name
	people     map[string]uuid.UUID
	sites      map[string]uuid.UUID
	course     uuid.UUID
	sessions   map[string]Session
	groups     map[string]uuid.UUID // by session
	enrolments map[string]uuid.UUID
	syllabus   SyllabusContent
}

func main() {
	defer func() {
		if stopped := recover(); stopped != nil {
			fmt.Fprintln(os.Stderr, stopped)
			os.Exit(1)
		}
	}()
	s := &story{scenario: readScenario(os.Getenv("SCENARIO")), ctx: context.Background(),
		clients: map[string]*ClientWithResponses{}, people: map[string]uuid.UUID{},
		sites: map[string]uuid.UUID{}, sessions: map[string]Session{}, groups: map[string]uuid.UUID{},
		enrolments: map[string]uuid.UUID{}}
	s.connect("Mara", os.Getenv("TOKEN"))
	s.at("2027-06-01T08:00:00Z")
	s.centre()
	s.crewAndStudents()
	s.schedule()
	s.placeStudents()
	s.theoryEvening()
	s.pool()
	s.saturday()
	s.monday()
	s.complete()
}

// connect makes a client that sends a person's token.
func (s *story) connect(name, token string) {
	c, err := NewClientWithResponses(os.Getenv("SERVER"),
		WithRequestEditorFn(func(_ context.Context, r *http.Request) error {
			r.Header.Set("Authorization", "Bearer "+token)
			return nil
		}))
	check(err)
	s.clients[name] = c
}

// as returns the client of a person.
func (s *story) as(name string) *ClientWithResponses { return s.clients[name] }

// at sets the clock of the demo centre.
func (s *story) at(instant string) {
	r, err := s.as("Mara").SetClockWithResponse(s.ctx, ClockSet{NowAt: moment(instant)})
	check(err)
	got("the clock", r.Body, r.JSON200)
}

// check ends the story where a call came to nothing.
func check(err error) {
	if err != nil {
		panic(err)
	}
}

// got returns the answer that is there, and ends the story where none is.
func got[T any](what string, body []byte, answers ...*T) T {
	for _, a := range answers {
		if a != nil {
			return *a
		}
	}
	panic(fmt.Sprintf("%s: %s", what, body))
}

// expect ends the story unless something is as it should be.
func expect(as bool, format string, args ...any) {
	if !as {
		panic(fmt.Sprintf(format, args...))
	}
}

// refusedBy ends the story unless a request was refused by a rule. It returns the message of its finding.
func refusedBy(rule string, body []byte, refusal *Refused) string {
	p := got("a refusal by "+rule, body, refusal)
	for _, f := range p.Findings {
		if f.Rule == rule {
			return f.Message
		}
	}
	panic(fmt.Sprintf("refused, and not by %s: %s", rule, body))
}

// cautions returns the acceptance of each caution of a refusal; nil where there is none.
func cautions(refusal *Refused) *Accept {
	var out Accept
	if refusal == nil {
		return nil
	}
	for _, f := range refusal.Findings {
		if f.Severity == "caution" {
			out = append(out, Acceptance{Rule: f.Rule, SubjectID: f.Subjects[0].ID,
				Reason: "the group comes up when the first is low on gas"})
		}
	}
	if len(out) == 0 {
		return nil
	}
	return &out
}

// recorded ends the story unless every entry was recorded.
func recorded(what string, items []EntryResult) {
	for _, r := range items {
		expect(r.Status == "recorded", "%s: %s: %+v", what, r.Status, r.Problem)
	}
}

func moment(instant string) time.Time {
	t, err := time.Parse(time.RFC3339, instant)
	check(err)
	return t
}

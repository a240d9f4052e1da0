package demo

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"
)

const (
	post  = http.MethodPost
	get   = http.MethodGet
	patch = http.MethodPatch
)

// prepare sets up the centre: crew with papers, students from a list, sites, a
// syllabus.
func (s *story) prepare() {
	s.chapter(at(1, "08:00"), "Tuesday. Mara, who manages the shop at Kelp Point, "+
		"sets up the weekend course.")
	for _, c := range s.scenario.crew {
		s.hire(c)
	}
	s.note("Three instructors and two assistants are on the books with their papers.")

	list := s.scenario.list
	broken := strings.Replace(list, "2001-07-15", "15/07/2001", 1)
	a := s.refused("Mara", post, "/v1/people/import", broken, 400, "people.bad_line",
		"Mara takes in the list of students from a spreadsheet.")
	if f := found(a.body); len(f) > 0 {
		fmt.Fprintf(s.out, "      line %v, column %v\n", f[0]["line"], f[0]["column"])
	}
	s.expect(len(s.must("Mara", get, "/v1/people?role=student", nil).items()) == 0,
		"a list with a bad line was half taken in")
	for _, p := range s.accepted("Mara", "/v1/people/import", list,
		"Corrected, the list is taken in whole: twelve students.").items() {
		s.student(p)
	}
	for _, name := range s.scenario.students {
		s.papers(name, "enrolled")
	}
	s.note("Waivers and medical outcomes are on record: an outcome and a date, never an answer. " +
		"One of Fay's answers needs a physician.")
	s.token("Nuno", "student")
	s.sites()
}

func (s *story) sites() {
	for key, site := range s.scenario.sites {
		s.ids[key] = s.must("Mara", post, "/v1/sites", site).id()
	}
	builtIn := s.must("Mara", get, "/v1/built-in-syllabuses", nil).items()[0]
	s.skills = readSkills(builtIn)
	s.ids["syllabus"] = s.must("Mara", post, "/v1/syllabuses",
		object{"title": "First certification", "built_in": builtIn["code"]}).id()
	s.note("A pool, a cove, and a syllabus of %d skills copied from the built-in one.", len(s.skills))
	s.must("Mara", patch, "/v1/centre", object{"own_rule_book": s.scenario.centre.OwnRuleBook},
		"If-Match", s.must("Mara", get, "/v1/centre", nil).etag)
	s.note("Beside the general rule books the centre has one line of its own: with anybody under 16 in a "+
		"group, fewer students; and they go to %v m.", s.minorsDepth())
}

// minorsDepth returns the depth, in metres, to which the house rules let a group with
// Minna in it go.
func (s *story) minorsDepth() float64 { return s.scenario.centre.OwnRuleBook.Lines[0].MaxDepth.Value }

// hire adds a member of the crew with their papers.
func (s *story) hire(c crewMember) {
	first := firstName(c.name)
	id := uuid.MustParse(s.must("Mara", post, "/v1/people",
		object{"name": c.name, "birth_on": c.birthOn, "roles": []string{c.role}}).id())
	s.add(first, id, "")
	s.papers(first, "hired")
	s.token(first, c.role)
}

// tokenScopes has, for each role, the scopes of a token beside those that read.
var tokenScopes = map[string][]string{
	"instructor": {"people:write", "papers:write", "courses:write", "sites:write", "conventions:write",
		"sessions:write", "training:write", "sign-offs:write"},
	"assistant": {"people:write", "papers:write", "sessions:write", "training:write"},
}

// token issues a token for a person with all scopes of a role.
func (s *story) token(first, role string) {
	scopes := append([]string{"centre:read", "people:read", "papers:read", "courses:read",
		"sessions:read", "training:read"}, tokenScopes[role]...)
	a := s.must("Mara", post, "/v1/tokens", object{"person_id": s.people[first], "label": first + "'s phone",
		"scopes": scopes})
	s.tokens[first] = fmt.Sprint(a.body["secret"])
}

func (s *story) student(p object) {
	s.add(firstName(fmt.Sprint(p["name"])), uuid.MustParse(fmt.Sprint(p["id"])), "")
}

// papers records the papers of a person that come in at a step of the story.
func (s *story) papers(first, when string) {
	for _, p := range s.scenario.papers {
		if p.person != first || p.when != when {
			continue
		}
		body := object{"kind": p.kind, "outcome": p.outcome, "issued_on": p.issuedOn}
		if p.validUntil != "" {
			body["valid_until"] = p.validUntil
		}
		s.must("Mara", post, "/v1/people/"+s.people[first].String()+"/papers", body)
	}
}

// skill is what the story knows of a skill of the syllabus.
type skill struct {
	code, setting string
	before        []string
	roles         []any
	measures      []object
	earliest      float64
}

// readSkills returns the skills of a syllabus in an order in which each comes after
// its prerequisites.
func readSkills(content object) []skill {
	var waiting, out []skill
	for _, x := range content["skills"].([]any) {
		k := x.(object)
		c := k["criterion"].(object)
		one := skill{code: k["code"].(string), setting: k["setting"].(string), roles: k["roles"].([]any),
			measures: limits(c["measures"].([]any))}
		if ways := c["either_of"].([]any); len(ways) > 0 {
			one.measures = append(one.measures, limits(ways[0].(object)["measures"].([]any))...)
		}
		if e, ok := k["earliest_dive"].(float64); ok {
			one.earliest = e
		}
		if r, ok := k["repeats"].(string); ok {
			one.before = append(one.before, r)
		}
		for _, p := range k["prerequisites"].([]any) {
			one.before = append(one.before, p.(string))
		}
		waiting = append(waiting, one)
	}
	for len(waiting) > 0 {
		for i, k := range waiting {
			if !slices.ContainsFunc(waiting,
				func(o skill) bool { return slices.Contains(k.before, o.code) }) {
				out, waiting = append(out, k), slices.Delete(waiting, i, i+1)
				break
			}
		}
	}
	return out
}

// limits returns measured values that just meet the limits of measures.
func limits(measures []any) []object {
	var out []object
	for _, x := range measures {
		m := x.(object)
		q, ok := m["at_least"].(object)
		if !ok {
			q = m["at_most"].(object)
		}
		out = append(out, object{"name": m["name"], "value": q["value"], "unit": q["unit"]})
	}
	return out
}

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

// The students, by first name, in the order in which they are placed.
var (
	blue = []string{"Nuno", "Olga", "Pedro", "Quinn", "Rosa", "Sami", "Tomas", "Uma"}
	late = []string{"Viktor", "Kim"} // join when an assistant does
	red  = []string{"Fay", "Minna"}
)

const list = `name,birth_on,gauge_unit
Nuno Reis,1994-03-21,
Olga Brandt,1988-11-02,
Pedro Alves,2001-07-15,
Quinn Hale,1999-01-30,psi
Rosa Lindqvist,1985-09-09,
Sami Noor,2003-12-24,
Tomas Ferreira,1979-05-05,
Uma Petrie,1992-08-18,
Viktor Amsel,1996-02-11,
Kim Dorsey,1990-10-10,
Fay Hollis,1983-06-27,
Minna Soares,2012-01-17,
`

// prepare sets up the centre: crew with papers, students from a list, sites, a
// syllabus.
func (s *story) prepare() {
	s.chapter(at(1, "08:00"), "Tuesday. Mara, who manages the shop at Kelp Point, "+
		"sets up the weekend course.")
	s.hire("Ines Duarte", "instructor", "2028-06-01")
	s.hire("Rui Castelo", "instructor", "2028-06-01")
	s.hire("Lars Brenner", "instructor", "2027-06-04") // his first aid lapses on the Friday
	s.hire("Abel Moura", "assistant", "2028-06-01")
	s.hire("Bea Lind", "assistant", "2028-06-01")
	s.note("Three instructors and two assistants are on the books with their papers.")

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
	for _, name := range slices.Concat(blue, late, red) {
		s.paper(name, "waiver", "valid", "2027-05-20", "")
		if name != "Fay" {
			s.paper(name, "medical", "nothing_flagged", "2027-05-20", "")
		}
	}
	s.paper("Fay", "medical", "physician_needed", "2027-05-20", "")
	s.note("Waivers and medical outcomes are on record: an outcome and a date, never an answer. " +
		"One of Fay's answers needs a physician.")
	s.token("Nuno")
	s.sites()
}

func (s *story) sites() {
	s.ids["pool"] = s.must("Mara", post, "/v1/sites",
		object{"name": "Harbour pool", "kind": "confined", "water": "fresh",
			"max_depth": object{"value": 4, "unit": "m"},
			"emergency": "Front desk, red telephone. Oxygen beside the lifeguard's chair."}).id()
	s.ids["bay"] = s.must("Mara", post, "/v1/sites",
		object{"name": "North cove", "kind": "open", "water": "salt",
			"max_depth": object{"value": 16, "unit": "m"},
			"emergency": "Harbour office on channel 12. Oxygen and first-aid kit in the van."}).id()
	builtIn := s.must("Mara", get, "/v1/built-in-syllabuses", nil).items()[0]
	s.skills = readSkills(builtIn)
	s.ids["syllabus"] = s.must("Mara", post, "/v1/syllabuses",
		object{"title": "First certification", "built_in": builtIn["code"]}).id()
	s.note("A pool, a cove, and a syllabus of %d skills copied from the built-in one.", len(s.skills))
	s.must("Mara", patch, "/v1/centre",
		object{"own_rule_book": object{"title": "Kelp Point, house rules",
			"source": "Mara Quill, spring of 2027", "lines": []object{{
				"title": "under 16", "settings": []string{"open"}, "levels": []string{"entry_level"},
				"age_to": 15, "only_limits": true, "places": []int{4, 6, 8},
				"max_depth": metres(redDepth)}}}},
		"If-Match", s.must("Mara", get, "/v1/centre", nil).etag)
	s.note("Beside the general rule books the centre has one line of its own: with anybody under 16 in a "+
		"group, fewer students; and they go to %v m.", redDepth)
}

// redDepth is the depth of the red group, in metres, with Minna in it.
const redDepth = 10.0

// hire adds a member of the crew with papers; the first-aid paper ends on a day.
func (s *story) hire(name, role, firstAid string) {
	first := strings.Fields(name)[0]
	id := uuid.MustParse(s.must("Mara", post, "/v1/people",
		object{"name": name, "birth_on": "1986-02-14", "roles": []string{role}}).id())
	s.add(first, id, "")
	s.paper(first, "teaching_status", "valid", "2027-01-01", "2027-12-31")
	s.paper(first, "insurance", "valid", "2027-01-01", "2027-12-31")
	s.paper(first, "first_aid", "valid", "2025-06-04", firstAid)
	s.token(first)
}

// token issues a token for a person with all scopes of their roles.
func (s *story) token(first string) {
	scopes := []string{"centre:read", "people:read", "papers:read", "courses:read",
		"sessions:read", "training:read"}
	if slices.Contains([]string{"Ines", "Rui", "Lars"}, first) {
		scopes = append(scopes, "people:write", "papers:write", "courses:write", "sites:write",
			"conventions:write", "sessions:write", "training:write", "sign-offs:write")
	}
	if slices.Contains([]string{"Abel", "Bea"}, first) {
		scopes = append(scopes, "people:write", "papers:write", "sessions:write", "training:write")
	}
	a := s.must("Mara", post, "/v1/tokens", object{"person_id": s.people[first], "label": first + "'s phone",
		"scopes": scopes})
	s.tokens[first] = fmt.Sprint(a.body["secret"])
}

func (s *story) student(p object) {
	s.add(strings.Fields(fmt.Sprint(p["name"]))[0], uuid.MustParse(fmt.Sprint(p["id"])), "")
}

func (s *story) paper(first, kind, outcome, issued, until string) {
	body := object{"kind": kind, "outcome": outcome, "issued_on": issued}
	if until != "" {
		body["valid_until"] = until
	}
	s.must("Mara", post, "/v1/people/"+s.people[first].String()+"/papers", body)
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

package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What breaks the contract is told to a person, not to whoever wrote a schema:
// what was found, and what is taken.
func TestABreachOfTheContractIsToldInPlainWords(t *testing.T) {
	s := open(t)
	site := func(member string, value any) func() answer {
		ask := bay()
		ask[member] = value
		return func() answer { return s.manager.post("/v1/sites", ask) }
	}
	person := func(more body) func() answer {
		ask := body{"name": "A", "birth_on": "1990-01-01", "roles": []string{"student"}}
		for k, v := range more {
			ask[k] = v
		}
		return func() answer { return s.manager.post("/v1/people", ask) }
	}
	check := func(more body) func() answer {
		item := body{"id": newID(), "participant_id": newID(), "witnessed_at": at(saturday)}
		for k, v := range more {
			item[k] = v
		}
		return func() answer {
			return s.instructor.post("/v1/sessions/"+newID()+"/gas-checks", body{"items": []body{item}})
		}
	}
	get := func(path string) func() answer { return func() answer { return s.manager.get(path) } }
	for _, c := range []struct {
		ask     func() answer
		pointer any
		says    string
	}{
		{site("kind", "swimming"), "/kind", "It has to be one of 'confined', 'open'."},
		{site("max_depth", inBar(18)), "/max_depth/unit", "It has to be one of 'm', 'ft'."},
		{site("max_depth", inMetres(-1)), "/max_depth/value", "-1 is too little: 0 or more is taken."},
		{site("max_depth", inMetres(1e5)), "/max_depth/value", "100,000 is too much: at most 10,000 is taken."},
		{site("max_depth", inMetres(1.234)), "/max_depth/value",
			"1.234 is too exact: only steps of 0.01 are taken."},
		{site("max_depth", 18), "/max_depth", "It is a number, and has to be an object with members."},
		{site("water", nil), "/water", "It is null, and has to be a text."},
		{site("colour", "red"), "/colour",
			"There is no member 'colour' here. Leave it out, or correct its name."},
		{site("name", "  "), "/name", "It has no character that can be seen. Write something."},
		{site("name", strings.Repeat("x", 201)), "/name",
			"The text is too long: it has 201 characters, and at most 200 are taken."},
		{site("id", "north"), "/id",
			"'north' is no id: an id is a UUID, like 0198f3c0-0000-7000-8000-000000000001."},
		{person(body{"birth_on": "1990-02-30"}), "/birth_on",
			"'1990-02-30' is no day of the calendar: write it like 2027-06-05."},
		{person(body{"roles": []string{}}), "/roles",
			"The list is too short: it has 0, and at least 1 are asked for."},
		{person(body{"roles": []string{"student", "student"}}), "/roles",
			"The same is in the list twice, at 0 and 1, counted from 0: once is enough."},
		{check(body{"witnessed_at": "soon"}), "/items/0/witnessed_at",
			"'soon' is no instant: write it like 2027-06-05T09:00:00Z."},
		{check(body{"reading": inBar(-5)}), "/items/0/reading/value", "-5 is too little: 0 or more is taken."},
		{get("/v1/sites?limit=0"), "limit", "0 is too little: 1 or more is taken."},
		{get("/v1/sites?limit=many"), "limit", "'many' is no integer."},
		{get("/v1/sites?kind=puddle"), "kind",
			"'puddle' is not known here: it has to be one of confined, open."},
		{func() answer { return s.manager.post("/v1/outings", body{"title": "Boat"}) }, "/held_on",
			"This is missing: 'held_on'."},
		{func() answer {
			return s.manager.post("/v1/courses/"+newID()+"/sessions",
				body{"kind": "open", "title": "x", "starts_local": "nine", "ends_local": "2026-06-06T09:00"})
		}, "/starts_local", "'nine' is no local time: write it like 2027-06-05T09:00."},
	} {
		a := c.ask().refused(http.StatusBadRequest, "invalid_request")
		require.Equal(t, []any{c.pointer, c.says},
			[]any{a.at("findings.0.pointer"), a.at("findings.0.message")})
		require.Equal(t, c.says, a.at("detail"))
	}
}

// A client that speaks another language decides by the rule and words the message from the parameters
// alone: each breach has a rule of its own, named after the keyword of JSON Schema where there is one.
func TestEachBreachOfTheContractHasItsRuleAndItsParameters(t *testing.T) {
	s := open(t)
	s.manager = s.manager.on(t)
	site := func(member string, value any) answer {
		ask := bay()
		ask[member] = value
		return s.manager.post("/v1/sites", ask)
	}
	person := func(member string, value any) answer {
		ask := body{"name": "A", "birth_on": "1990-01-01", "roles": []string{"student"}}
		ask[member] = value
		return s.manager.post("/v1/people", ask)
	}
	for _, c := range []struct {
		answer answer
		rule   string
		params map[string]any
	}{
		{site("kind", "swimming"), "contract.enum", map[string]any{"allowed": []any{"confined", "open"}}},
		{s.manager.get("/v1/sites?kind=puddle"), "contract.enum",
			map[string]any{"found": "puddle", "allowed": []any{"confined", "open"}}},
		{site("max_depth", inMetres(-1)), "contract.range",
			map[string]any{"found": -1.0, "limit": 0.0, "bound": "least"}},
		{site("max_depth", inMetres(1e5)), "contract.range",
			map[string]any{"found": 1e5, "limit": 1e4, "bound": "most"}},
		{site("max_depth", inMetres(1.234)), "contract.step", map[string]any{"found": 1.234, "limit": 0.01}},
		{site("max_depth", 18), "contract.type", map[string]any{"found": "number", "allowed": "object"}},
		{site("colour", "red"), "contract.unknown_member", map[string]any{"member": "colour"}},
		{site("name", strings.Repeat("x", 201)), "contract.length",
			map[string]any{"found": 201.0, "limit": 200.0, "bound": "most"}},
		{site("id", "north"), "contract.format", map[string]any{"found": "north", "format": "uuid"}},
		{site("id", "00000000-0000-0000-0000-000000000000"), "contract.reserved_id", map[string]any{}},
		{person("birth_on", "1990-02-30"), "contract.format",
			map[string]any{"found": "1990-02-30", "format": "date"}},
		{person("roles", []string{}), "contract.count",
			map[string]any{"found": 0.0, "limit": 1.0, "bound": "least"}},
		{person("roles", []string{"student", "student"}), "contract.not_unique",
			map[string]any{"first": 0.0, "second": 1.0}},
		{s.manager.post("/v1/outings", body{"title": "Boat"}), "contract.required",
			map[string]any{"member": "held_on"}},
		{s.manager.post("/v1/courses/"+newID()+"/sessions",
			body{"kind": "open", "title": "x", "starts_local": "nine", "ends_local": "2026-06-06T09:00"}),
			"contract.pattern", map[string]any{"found": "nine", "pattern": `^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$`}},
	} {
		f := c.answer.refused(http.StatusBadRequest, "invalid_request").by(c.rule)
		require.Equal(t, c.params, f["params"], c.rule)
	}
}

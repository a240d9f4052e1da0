package httpapi_test

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tankside/internal/httpapi"
)

// asked is a path at which a session is judged: one of the session, or placements of a course.
var (
	sessionAsked    = regexp.MustCompile(`^/v1/sessions/([0-9a-f-]{36})(?:[/?]|$)`)
	placementsAsked = regexp.MustCompile(`^/v1/(?:courses/[0-9a-f-]{36}/placements|dives/[0-9a-f-]{36}/times-(?:in|out)|briefings/[0-9a-f-]{36}/acknowledgements)(?:\?|$)`)
)

// namesItsSession holds every answer of the API tests against a law: what the rules find of a session names
// the session among its subjects. A board that shows several sessions could not tell otherwise to which of
// them a finding about a person belongs. What breaks the contract, and a figure that is not possible, is about the request.
func namesItsSession(t testing.TB, path string, text []byte) {
	t.Helper()
	of := sessionAsked.FindStringSubmatch(path)
	if of == nil && !placementsAsked.MatchString(path) || !strings.Contains(string(text), `"subjects"`) {
		return
	}
	var answer any
	if json.Unmarshal(text, &answer) != nil {
		return // an event of a stream, or no JSON
	}
	id := ""
	if of != nil {
		id = of[1]
	}
	for _, f := range findingsWithin(answer) {
		rule, _ := f["rule"].(string)
		subjects, _ := f["subjects"].([]any)
		named := slices.ContainsFunc(subjects, func(s any) bool {
			subject := s.(map[string]any)
			return subject["type"] == "session" && (id == "" || subject["id"] == id)
		})
		if !named && !strings.HasPrefix(rule, "contract.") && rule != "planning.not_possible" {
			t.Errorf("%s: %s does not name its session: %v", path, rule, f["subjects"])
		}
	}
}

// speaksFromATemplate holds every answer of the API tests against a law: the message of a finding is one of the
// templates that /v1/rules lists for its rule, and every part of it is among the parameters, so that a client
// can word it in another language.
func speaksFromATemplate(t testing.TB, path string, text []byte) {
	t.Helper()
	if !strings.Contains(string(text), `"severity"`) || !strings.HasPrefix(path, "/v1/") {
		return
	}
	var answer any
	if json.Unmarshal(text, &answer) != nil {
		return
	}
	for _, f := range findingsWithin(answer) {
		rule, _ := f["rule"].(string)
		message, is := f["message"].(string)
		params, _ := f["params"].(map[string]any)
		if is && !wordedBy(rule, message, params) {
			t.Errorf("%s: no template of %s words %q from %v", path, rule, message, params)
		}
	}
}

// wordedBy reports whether a template of a rule words a message from parameters. A message may begin with the name
// of the person whom it is about, and have more to say at the end.
func wordedBy(rule, message string, params map[string]any) bool {
	return slices.ContainsFunc(httpapi.Templates(rule), func(template string) bool {
		expression := ""
		for _, piece := range pieces.FindAllString(template, -1) {
			if !strings.HasPrefix(piece, "{") {
				expression += regexp.QuoteMeta(piece)
				continue
			}
			if _, kept := params[strings.Trim(piece, "{}")]; !kept {
				return false
			}
			expression += "(?s:.*?)"
		}
		return regexp.MustCompile(expression).MatchString(message)
	})
}

// pieces are the parts of a template and what stands between them.
var pieces = regexp.MustCompile(`\{[a-z_]+\}|[^{]+`)

// findingsWithin returns every finding in an answer.
func findingsWithin(v any) (out []map[string]any) {
	switch x := v.(type) {
	case []any:
		for _, below := range x {
			out = append(out, findingsWithin(below)...)
		}
	case map[string]any:
		if x["rule"] != nil && x["severity"] != nil {
			return []map[string]any{x}
		}
		for _, below := range x {
			out = append(out, findingsWithin(below)...)
		}
	}
	return out
}

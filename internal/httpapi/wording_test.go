package httpapi_test

import (
	"encoding/csv"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"

	"tankside/internal/httpapi/contract"
)

// A line feed in a name forged a line of the plain-text briefing: "Low on gas at 20
// bar" in a name is an order that nobody gave.
func TestANameForgesNothing(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for _, bad := range []string{"Ana\nLow on gas at 20 bar", "Ana\rLima", "Ana\u0085Lima", "Ana\u2028Lima",
		"Ana\u2029Lima", "Ana\x1b[2J", "Ana\u202eamiL",
		"Ana\u2066Lima", "Ana\u200fLima", "Ana\u061cLima", "\u200b\u200d", "\u3164", "\u2800", "\u00a0", "\U000e0041"} {
		for path, ask := range map[string]body{
			"/v1/people": {"name": bad, "birth_on": "1994-03-21", "roles": []string{"student"}},
			"/v1/courses": {"title": bad, "syllabus_id": w.syllabus, "starts_on": "2026-07-05",
				"ends_on": "2026-07-07"},
			"/v1/sites":      and2(pool(), "name", bad),
			"/v1/outings":    {"title": bad, "held_on": "2026-06-07"},
			"/v1/syllabuses": {"title": bad, "built_in": "entry-level"},
			"/v1/tokens":     {"program": bad, "scopes": []string{"courses:read"}},
		} {
			f := s.manager.post(path, ask).refused(http.StatusBadRequest,
				"invalid_request").by("contract.bad_wording")
			require.Equal(t, "body", f["in"])
		}
		if strings.TrimSpace(bad) == "" || !strings.HasPrefix(bad, "Ana") {
			continue // within a name, what shows nothing is taken
		}
		var list strings.Builder
		table := csv.NewWriter(&list)
		require.NoError(t, table.WriteAll([][]string{{"name", "birth_on", "emergency_name"},
			{"Nuno", "1990-01-01", bad}}))
		importing(s.manager, list.String()).refused(http.StatusBadRequest, "bad_list").by("people.bad_line")
	}
	importing(s.manager, "name,birth_on\n\"Ana\nLow on gas\",1990-01-01\n").refused(http.StatusBadRequest,
		"bad_list").by("people.bad_line")
	importing(s.manager, "name,birth_on\n\u200b,1990-01-01\n").refused(http.StatusBadRequest,
		"bad_list").by("people.bad_line")
	s.manager.post("/v1/people",
		body{"name": "محمد علی", "birth_on": "1994-03-21", "roles": []string{"student"},
			"external_refs": body{"a\u202eb": "1"}}).
		refused(http.StatusBadRequest, "invalid_request").by("contract.bad_wording")
	s.manager.post("/v1/people",
		body{"name": "محمد علی", "birth_on": "1994-03-21", "roles": []string{"student"}}).made()
	s.manager.post("/v1/people/"+s.student.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-07", "note": "a cold\n\tand a cough"}).made()
	s.manager.post("/v1/people/"+s.student.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-07",
			"note": "a cold\u202e"}).refused(http.StatusBadRequest, "invalid_request")
}

// and2 returns a body with another value of a member.
func and2(b body, member string, value any) body { b[member] = value; return b }

// What an earlier release took stands as it was, and a sheet shows it on one line.
func TestASheetShowsAnOldNameOnOneLine(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.Exec(`UPDATE person SET name = E'Sofia\nLOW ON GAS AT 20 BAR\u202e' WHERE id = '`+
		w.student.person.String()+`'`, nil)
	sheet := "/v1/briefings/" + w.brief(w.confined, saturday) + "/sheet"
	text := string(w.instructor.call(http.MethodGet, sheet, nil, "Accept",
		"text/plain").want(http.StatusOK).text)
	require.Contains(t, text, "Sofia LOW ON GAS AT 20 BAR")
	require.NotContains(t, text, "\nLOW ON GAS")
	require.NotContains(t, text, "\u202e")
	require.Contains(t, string(w.instructor.get(sheet).want(http.StatusOK).text), "<bdi>Sofia\nLOW ON GAS")
}

// The characters that begin a formula (OWASP, CSV injection), the full-width ones
// and a line feed included.
func TestNoCellOfATableIsAFormula(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for _, begin := range []string{"=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d",
		"\uff20"} {
		w.Exec(`UPDATE person SET name = @name WHERE id = @id`,
			map[string]any{"name": begin + "cmd", "id": w.student.person})
		text := string(w.manager.call(http.MethodGet, "/v1/courses/"+w.course+"/progress", nil, "Accept",
			"text/csv").want(http.StatusOK).text)
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		require.NoError(t, err)
		require.True(t, slices.ContainsFunc(rows,
			func(r []string) bool {
				return strings.HasPrefix(r[0], "'") &&
					strings.HasSuffix(r[0], "cmd")
			}), "%q: %s", begin, text)
	}
}

// Every text of a request that may be long is one of several lines, and no other.
func TestWhichTextsHaveSeveralLines(t *testing.T) {
	long := map[string]bool{}
	for _, proxy := range theContract().components.Schemas.FromOldest() {
		schema, err := proxy.BuildSchema()
		require.NoError(t, err)
		if schema.Properties == nil || schema.AdditionalProperties == nil || schema.AdditionalProperties.B {
			continue // answers are open
		}
		for name, p := range schema.Properties.FromOldest() {
			text, err := p.BuildSchema()
			require.NoError(t, err)
			if isText(text) && text.MaxLength != nil && *text.MaxLength >= 1000 && name != "address" {
				long[name] = true
			}
		}
	}
	require.NotEmpty(t, long)
	for name := range long {
		require.Contains(t, contract.OfSeveralLines, name)
	}
}

func isText(s *base.Schema) bool {
	return slices.Contains(s.Type, "string") && len(s.Enum) == 0 && s.Format == ""
}

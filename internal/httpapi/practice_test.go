package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/signal"
)

// The names of cases in the contract are those of the rule book.
func TestTheContractKnowsEveryCase(t *testing.T) {
	doc, err := libopenapi.NewDocument(api.Document)
	require.NoError(t, err)
	model, err := doc.BuildV3Model()
	require.NoError(t, err)
	schema := func(name string) *base.Schema { return model.Model.Components.Schemas.GetOrZero(name).Schema() }
	var cases []string
	for _, c := range signal.Misreadings() {
		cases = append(cases, string(c))
		require.NotEqual(t, string(c), c.Title(), "a title in words")
	}
	var known []string
	require.NoError(t, schema("DrillCase").Extensions.GetOrZero("x-known-values").Decode(&known))
	require.Equal(t, cases, known)
}

// script asks for a drill script.
func (w *season) script(ask body) answer {
	w.t.Helper()
	return w.instructor.post("/v1/sessions/"+w.confined+"/drill-scripts", ask)
}

// casesFor gives the cases of a student's cards, in their order.
func casesFor(a answer, participant string) []string {
	var out []string
	for _, c := range a.list("cards") {
		if c["participant_id"] == participant {
			out = append(out, c["case"].(string))
		}
	}
	return out
}

func TestADrillIsWrittenForTheStudentsOfASession(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	sofia, tiago := w.part(w.confined, w.sofia), w.part(w.confined, w.tiago)
	w.program.patch("/v1/participants/"+tiago, body{"gauge_unit": "psi"}).want(http.StatusOK)
	before := w.everyRow()
	first := w.script(body{"convention": "forearm_bar", "pressures": []body{{"participant_id": sofia,
		"turn": body{"value": 110, "unit": "bar"}, "low": body{"value": 55,
			"unit": "bar"}}}}).want(http.StatusOK)
	again := w.script(body{"convention": "forearm_bar", "seed": first.at("seed"),
		"pressures": []body{{"participant_id": sofia,
			"turn": body{"value": 110, "unit": "bar"}, "low": body{"value": 55,
				"unit": "bar"}}}}).want(http.StatusOK)
	require.JSONEq(t, string(first.text), string(again.text), "the same seed gives the same script")
	require.Equal(t, before, w.everyRow(), "nothing is stored")

	all := []string{}
	for _, c := range signal.Misreadings() {
		all = append(all, string(c))
	}
	require.ElementsMatch(t, all, casesFor(first, sofia))
	met := casesFor(first, tiago)
	for _, c := range all[:5] {
		require.Contains(t, met, c)
	}
	require.NotContains(t, met, "at_low", "no pressure of Tiago's is known")
	require.Equal(t, []any{"at_turn", "at_low"}, first.at("students.1.left_out"))
	require.Contains(t, first.by("signal.not_planned")["message"], "Tiago Student")
	require.Equal(t, []any{"request", nil},
		[]any{first.at("students.0.pressures_from"), first.at("students.1.pressures_from")})

	last := ""
	for _, c := range first.list("cards") {
		require.NotEqual(t, last, c["case"], "no two neighbours are alike")
		last = c["case"].(string)
		unit := map[string]string{sofia: "bar", tiago: "psi"}[c["participant_id"].(string)]
		require.Equal(t, unit, c["reading"].(body)["unit"], "in the unit of the own gauge")
		require.NotEmpty(t, c["show"].([]any)[0].(body)["text"])
		require.Contains(t, c["expect"].([]any)[0],
			fmt.Sprintf("Report %v %s", c["report"].(body)["value"], unit))
	}
	require.Equal(t, signal.Caution, first.at("caution"))
}

func TestWhatAStudentGotWrongComesBack(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia, list := w.part(w.confined, w.sofia), "/v1/sessions/"+w.confined
	bar := func(n float64) body { return body{"value": n, "unit": "bar"} }
	over, silent, voided := newID(), newID(), newID()
	w.recorded(w.instructor.post(list+"/gas-checks", body{"items": []body{
		{"id": over, "participant_id": sofia, "reading": bar(187), "signalled": bar(190),
			"witnessed_at": at(saturday)},
		{"id": newID(), "participant_id": sofia, "reading": bar(145), "signalled": bar(140),
			"witnessed_at": at(saturday)},
		{"id": silent, "participant_id": sofia, "reading": bar(80), "no_answer": true,
			"witnessed_at": at(saturday.Add(10 * time.Minute))},
		{"id": voided, "participant_id": sofia, "reading": bar(208), "signalled": bar(210),
			"witnessed_at": at(saturday)},
	}}))
	w.instructor.post("/v1/entries/"+voided+"/void", body{"reason": "another student"}).want(http.StatusOK)
	receiving, swim := newID(), newID()
	w.recorded(w.instructor.post(list+"/drill-attempts", body{"items": []body{
		{"id": receiving, "participant_id": sofia, "skill": "gas-receiving", "role": "receiver", "met": false,
			"reason": "let go", "witnessed_at": at(saturday.Add(20 * time.Minute))},
		{"id": swim, "participant_id": sofia, "skill": "swim", "met": false, "reason": "stopped",
			"witnessed_at": at(saturday)},
	}}))
	a := w.script(body{"convention": "digits_bar", "seed": 7,
		"participant_ids": []string{sofia}}).want(http.StatusOK)
	require.Equal(t, []body{
		{"case": "six_to_nine", "entry_id": over, "because": "over_reported"},
		{"case": "one_digit", "entry_id": silent, "because": "no_answer"},
		{"case": "out_of_gas", "entry_id": receiving, "because": "gas-receiving"},
	}, a.list("students.0.came_back"))
	for _, twice := range []string{"six_to_nine", "one_digit", "out_of_gas"} {
		n := 0
		for _, c := range casesFor(a, sofia) {
			if c == twice {
				n++
			}
		}
		require.GreaterOrEqual(t, n, 2, twice)
	}
	require.Len(t, slices.Compact(slices.Clone(casesFor(a, sofia))), len(casesFor(a, sofia)),
		"never one twice running")
}

func TestADrillIsRefusedWithWhatWouldCureIt(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	own := body{"code": "ours", "name": "As briefed", "unit": "bar", "hands": 1, "style": "forearm",
		"signs": []body{}}
	w.script(body{"convention_given": own}).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("signal.convention_unusable")
	w.script(body{}).refused(http.StatusBadRequest, "invalid_request")
	w.script(body{"convention": "digits_bar", "convention_given": own}).refused(http.StatusBadRequest,
		"invalid_request")
	w.script(body{"convention": "no_such"}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	w.script(body{"convention": "digits_bar",
		"participant_ids": []string{w.part(w.confined, w.assistant.person.String())}}).
		refused(http.StatusUnprocessableEntity, "unknown_reference")
	w.script(body{"convention": "digits_bar",
		"pressures": []body{{"participant_id": newID()}}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	w.script(body{"convention": "digits_bar",
		"pressures": []body{{"participant_id": w.part(w.confined, w.sofia),
			"low": body{"value": 800, "unit": "bar"}}}}).
		refused(http.StatusBadRequest, "invalid_request")
	own["hands"], own["ten"] = 2, "thumb_up"
	own["style"] = "digits"
	w.script(body{"convention_given": own}).want(http.StatusOK).by("signal.ten_reads_as_go_up")
	reading := w.as(w.Student("Rosa Reader", "1999-09-09"))
	reading.post("/v1/sessions/"+w.confined+"/drill-scripts",
		body{"convention": "digits_bar"}).want(http.StatusForbidden)
}

// Common practice: 1750 psi is reported 1700, 187 bar 180; 2600 psi two-handed
// is two on the forearm and six fingers, one-handed 2 then 6; 170 bar one-handed
// is 1 then 7; half a tank by T is 100 bar or 1500 psi.
func TestPracticeAsksAndJudges(t *testing.T) {
	s := open(t)
	for _, c := range []struct {
		convention string
		from, to   float64 // gauges that are reported alike
		want       string
	}{
		{"digits_psi", 1700, 1799, "fingers_1 sideways_2"},
		{"digits_bar", 180, 189, "fingers_1 sideways_3"},
		{"digits_bar", 170, 179, "fingers_1 sideways_2"},
		{"forearm_psi", 2600, 2699, "forearm_2 both_hands_6"},
		{"digits_psi", 2600, 2699, "fingers_2 sideways_1"},
		{"tee_bar", 100, 109, "tee"},
		{"tee_psi", 1500, 1599, "tee"},
	} {
		seed := seedFor(t, c.convention, c.from, c.to)
		at := fmt.Sprintf("?convention=%s&seed=%d", c.convention, seed)
		q := s.student.get("/v1/practice/question" + at).want(http.StatusOK)
		require.Nil(t, q.at("shown"), "the answer is not given away")
		gauge := q.at("gauge.value").(float64)
		require.True(t, c.from <= gauge && gauge <= c.to, "%v", gauge)
		ask := body{"convention": c.convention, "seed": seed, "gestures": strings.Fields(c.want)}
		a := s.student.post("/v1/practice/answers", ask).want(http.StatusOK)
		require.Equal(t, []any{"report", "right", c.from},
			[]any{a.at("kind"), a.at("verdict"), a.at("right_reading.value")}, "%s of %v", c.want, gauge)

		q = s.student.get("/v1/practice/question" + at + "&kind=read").want(http.StatusOK)
		require.Nil(t, q.at("gauge"))
		require.Equal(t, strings.Fields(c.want)[0], q.at("shown.0.code"))
		delete(ask, "gestures")
		ask["reading"] = body{"value": c.from, "unit": q.at("unit")}
		require.Equal(t, "right", s.student.post("/v1/practice/answers", ask).want(http.StatusOK).at("verdict"))
		ask["reading"] = body{"value": c.from + 1, "unit": q.at("unit")}
		s.student.post("/v1/practice/answers", ask).want(http.StatusOK).by("signal.over_reported")
	}
}

// seedFor finds a seed whose gauge is in a range.
func seedFor(t *testing.T, convention string, from, to float64) int64 {
	t.Helper()
	for _, c := range signal.Ready() {
		for seed := uint64(0); c.Code == convention && seed < 10_000; seed++ {
			q, _ := signal.Ask(seed, c)
			if g := q.Gauge.Value.Float(); from <= g && g <= to {
				return int64(seed)
			}
		}
	}
	t.Fatalf("no seed of %s shows %v to %v", convention, from, to)
	return 0
}

func TestPracticeIsForEverybodyAndKeepsNothing(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	q := s.program.get("/v1/practice/question?convention=digits_bar&unit=psi").want(http.StatusOK)
	require.Equal(t, "psi", q.at("gauge.unit"))
	same := s.student.get(fmt.Sprintf("/v1/practice/question?convention=digits_bar&unit=psi&seed=%.0f",
		q.at("seed"))).want(http.StatusOK)
	require.JSONEq(t, string(q.text), string(same.text), "the seed that came back gives the question again")
	none := s.student.post("/v1/practice/answers",
		body{"convention": "digits_bar", "unit": "psi", "seed": q.at("seed"),
			"gestures": []string{}}).want(http.StatusOK)
	require.Equal(t, "no_answer", none.at("verdict"))
	require.Equal(t, before, s.everyRow())
	s.boss.post("/v1/conventions",
		body{"code": "house", "name": "House", "unit": "bar", "hands": 1, "style": "fives", "signs": []body{
			{"meaning": "how_much_gas", "gesture": "palm_up_curl"},
			{"meaning": "low_on_gas", "gesture": "fist_on_chest"},
			{"meaning": "out_of_gas", "gesture": "hand_across_throat"}, {"meaning": "share_gas",
				"gesture": "fingers_to_mouth"}}}).made()
	s.student.get("/v1/practice/question?convention=house").want(http.StatusOK)
	before = s.everyRow()
	s.student.get("/v1/practice/question?convention=no_such").refused(http.StatusNotFound, "not_found")
	s.student.post("/v1/practice/answers",
		body{"convention": "no_such", "seed": 1,
			"gestures": []string{}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.student.post("/v1/practice/answers",
		body{"convention": "digits_bar", "seed": 1}).refused(http.StatusBadRequest, "invalid_request")
	require.Equal(t, before, s.everyRow())
}

// The page for the slate says what the script says, card by card.
func TestADrillIsTakenAlongOnASlate(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	tiago := w.part(w.confined, w.tiago)
	w.program.patch("/v1/participants/"+tiago, body{"gauge_unit": "psi"}).want(http.StatusOK)
	script := w.script(body{"convention": "forearm_bar", "seed": 7}).want(http.StatusOK)
	to := "/v1/sessions/" + w.confined + "/drill-sheet?convention=forearm_bar&seed=7"
	page := w.instructor.get(to).want(http.StatusOK)
	require.Equal(t, "text/html; charset=utf-8", page.header.Get("Content-Type"))
	require.Contains(t, page.header.Get("Content-Security-Policy"), "default-src 'none'")
	plain := w.program.get(to, "Accept", "text/plain").want(http.StatusOK)
	require.Equal(t, "text/plain; charset=utf-8", plain.header.Get("Content-Type"))
	require.True(t, strings.HasPrefix(string(plain.text), "DRILL: Pool 1"), "%s", plain.text)
	for _, form := range []answer{page, plain} {
		require.Contains(t, strings.Join(strings.Fields(string(form.text)), " "), "gas is shut off")
	}
	rows := strings.Split(string(plain.text), "\n")
	for _, c := range script.list("cards") {
		reading, report := c["reading"].(body), c["report"].(body)
		row := slices.IndexFunc(rows,
			func(r string) bool { return strings.HasPrefix(r, fmt.Sprintf("%v ", c["number"])) })
		require.GreaterOrEqual(t, row, 0)
		for _, said := range []string{c["person_name"].(string),
			fmt.Sprintf("%v %v", reading["value"], reading["unit"]), fmt.Sprintf("%v %v", report["value"],
				report["unit"])} {
			require.Contains(t, rows[row], said)
			require.Contains(t, string(page.text), said)
		}
	}
	require.Contains(t, string(plain.text), "The partner signals out of gas: give gas")
	require.Contains(t, strings.Join(strings.Fields(string(plain.text)), " "),
		"turn pressure reached (Sofia Student, Tiago Student); low-gas pressure reached (Sofia Student, Tiago Student): no such pressure")
	alone := w.instructor.get(to+"&participant_id="+tiago, "Accept", "text/plain").want(http.StatusOK)
	require.NotContains(t, string(alone.text), "Sofia")

	w.student.get(to).refused(http.StatusForbidden, "missing_role")
	w.instructor.get(to+"&participant_id="+newID()).refused(http.StatusUnprocessableEntity, "unknown_reference")
	w.instructor.get("/v1/sessions/"+w.confined+
		"/drill-sheet?convention=of_nothing&seed=7").refused(http.StatusNotFound, "not_found")
	w.instructor.get("/v1/sessions/"+w.confined+
		"/drill-sheet?convention=forearm_bar").refused(http.StatusBadRequest, "invalid_request")
	w.instructor.get("/v1/sessions/"+newID()+
		"/drill-sheet?convention=forearm_bar&seed=7").refused(http.StatusNotFound, "not_found")
}

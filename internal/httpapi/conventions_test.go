package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/signal"
)

// house is a convention as a centre would draw it up: digits on one hand, in bar.
func house(more body) body {
	b := body{"code": "house", "name": "House signals", "unit": "bar", "hands": 1, "style": "digits",
		"signs": []body{
			{"meaning": "how_much_gas", "gesture": "palm_up_curl"},
			{"meaning": "low_on_gas", "gesture": "fist_on_chest"},
			{"meaning": "out_of_gas", "gesture": "hand_across_throat"}, {"meaning": "share_gas",
				"gesture": "fingers_to_mouth"}}}
	for k, v := range more {
		b[k] = v
	}
	return b
}

func and(b body, meaning, gesture string) body {
	b["signs"] = append(b["signs"].([]body), body{"meaning": meaning, "gesture": gesture})
	return b
}

func TestACentreKeepsItsOwnConventions(t *testing.T) {
	s := open(t)
	list := s.student.get("/v1/conventions").want(http.StatusOK)
	require.Len(t, list.list("items"), len(signal.Ready()))
	s.student.get("/v1/conventions", "If-None-Match", list.header.Get("ETag")).want(http.StatusNotModified)
	id := newID()
	made := s.instructor.post("/v1/conventions", house(body{"id": id}))
	require.Equal(t, id, made.made())
	s.instructor.post("/v1/conventions", house(body{"id": id})).want(http.StatusOK)
	s.instructor.post("/v1/conventions", house(body{"id": id, "name": "Other"})).refused(http.StatusConflict,
		"id_reused")
	s.instructor.post("/v1/conventions", house(nil)).refused(http.StatusConflict, "code_taken")
	s.instructor.post("/v1/conventions", house(body{"code": "digits_bar"})).refused(http.StatusConflict,
		"code_taken")
	s.assistant.post("/v1/conventions?dry_run=true", house(body{"code": "hers"})).refused(http.StatusForbidden,
		"missing_scope")
	a := s.student.get("/v1/conventions/house").want(http.StatusOK)
	require.Equal(t, true, a.at("own"))
	require.Len(t, s.student.get("/v1/conventions").list("items"), len(signal.Ready())+1)
	s.student.get("/v1/conventions/of_nothing").refused(http.StatusNotFound, "not_found")

	changed := s.instructor.patch("/v1/conventions/house",
		body{"hands": 2, "style": "forearm", "note": "thin gloves", "ten": nil,
			"region": "french"}).want(http.StatusOK)
	require.Equal(t, "forearm", changed.at("style"))
	s.instructor.call(http.MethodPatch, "/v1/conventions/house", body{"name": "X"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	s.instructor.call(http.MethodPatch, "/v1/conventions/house",
		body{"name": "X"}).refused(http.StatusPreconditionRequired, "version_required")
	s.instructor.patch("/v1/conventions/digits_bar", body{"name": "X"}).refused(http.StatusConflict,
		"wrong_state")
}

// A T asks for half a tank here and for decompression there; low on gas has one
// sign and the sign no other meaning (common practice).
func TestAConventionIsExamined(t *testing.T) {
	s := open(t)
	twice := and(house(nil), "go_up", "fist_on_chest")
	s.instructor.post("/v1/conventions", twice).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("signal.two_meanings")
	s.student.post("/v1/conventions/examine", twice).want(http.StatusOK).by("signal.two_meanings")
	require.Equal(t, false, s.instructor.post("/v1/conventions?dry_run=true",
		twice).want(http.StatusOK).at("allowed"))
	none := s.student.post("/v1/conventions/examine", house(body{"style": "forearm"})).want(http.StatusOK)
	none.by("signal.convention_unusable")
	require.Empty(t, none.list("shows"))
	require.Len(t, s.student.post("/v1/conventions/examine", house(nil)).want(http.StatusOK).list("shows"), 4)

	doubtful := and(house(body{"region": "tee_decompression"}), "half_tank", "tee")
	f := s.instructor.post("/v1/conventions", doubtful).refused(http.StatusUnprocessableEntity,
		"cautions_open").by("signal.against_custom")
	require.Contains(t, f["message"], "decompression")
	doubtful["accept"] = []body{{"rule": "signal.against_custom", "subject_id": "house",
		"reason": "we say so in each briefing"}}
	s.program.post("/v1/conventions", doubtful).refused(http.StatusForbidden, "missing_scope")
	s.instructor.post("/v1/conventions", doubtful).made()
	s.instructor.patch("/v1/conventions/house",
		body{"name": "Renamed"}).want(http.StatusOK).by("signal.against_custom")
}

// Common practice: 1750 psi is reported as 1700 and 187 bar as 180; 170 bar is 1
// then 7 on one hand; a T is 100 bar or 1500 psi; a turn pressure of 55 bar is
// shown as 60.
func TestReadingsOnTheHandsAndBack(t *testing.T) {
	s := open(t)
	encode := func(code string,
		ask body) answer {
		return s.student.post("/v1/conventions/"+code+"/encode", ask)
	}
	bar := func(x float64) body { return body{"value": x, "unit": "bar"} }
	a := encode("digits_psi", body{"reading": body{"value": 1750, "unit": "psi"}}).want(http.StatusOK)
	require.Equal(t, "one finger up, then two fingers sideways", a.at("text"))
	require.Equal(t, "1700 psi", s.holding("").get(a.at("strip").(string)).svg())
	require.Equal(t, body{"value": 180.0, "unit": "bar"},
		encode("digits_bar", body{"reading": bar(187)}).at("reading"))
	require.Equal(t, body{"value": 60.0, "unit": "bar"},
		encode("digits_bar", body{"reading": bar(55), "round": "up"}).at("reading"))
	require.Equal(t, body{"value": 800.0, "unit": "psi"},
		encode("digits_bar", body{"reading": bar(55), "round": "up", "gauge_unit": "psi"}).at("reading"),
		"55 bar is 797.7 psi (1 bar = 14.503773773 psi)")
	encode("digits_bar", body{"reading": bar(600)}).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("signal.out_of_range")
	encode("of_nothing", body{"reading": bar(50)}).refused(http.StatusNotFound, "not_found")

	decode := func(code string, gestures ...string) answer {
		return s.student.post("/v1/conventions/"+code+"/decode", body{"gestures": gestures})
	}
	require.Equal(t, body{"value": 170.0, "unit": "bar"},
		decode("digits_bar", "fingers_1", "sideways_2").want(http.StatusOK).at("said.0.reading"))
	require.Equal(t, "100 bar (half a tank)", decode("tee_bar", "tee").want(http.StatusOK).at("said.0.text"))
	require.Equal(t, "low_on_gas", decode("tee_bar", "fist_on_chest").want(http.StatusOK).at("said.0.meaning"))
	decode("digits_bar", "tee").refused(http.StatusUnprocessableEntity,
		"rules_refused").by("signal.impossible_sequence")
	decode("of_nothing", "tee").refused(http.StatusNotFound, "not_found")

	thumb := house(body{"ten": "thumb_up",
		"accept": []body{{"rule": "signal.ten_reads_as_go_up", "subject_id": "house", "reason": "pool only"}}})
	s.instructor.post("/v1/conventions", thumb).made()
	both := decode("house", "thumb_up").want(http.StatusOK)
	require.Len(t, both.list("said"), 2, "100 bar, or go up: every reading is given")
	both.by("signal.ambiguous")
}

func TestConventionsAreCompared(t *testing.T) {
	s := open(t)
	items := s.student.get("/v1/conventions/tee_bar/differences?known=digits_bar_tee_decompression").want(http.StatusOK).list("items")
	require.Contains(t, items, body{"what": "tee", "here": "the number 100 bar", "there": "decompression"},
		"one gesture, here a number and there a message")
	require.Contains(t, items,
		body{"what": "how_much_gas", "here": "Two fingers on the palm", "there": "Palm up, fingers curl"})
	require.Empty(t, s.student.get("/v1/conventions/tee_bar/differences?known=tee_bar").list("items"))
	s.student.get("/v1/conventions/tee_bar/differences?known=of_nothing").refused(http.StatusNotFound,
		"not_found")
	s.student.get("/v1/conventions/tee_bar/differences").refused(http.StatusBadRequest, "invalid_request")
}

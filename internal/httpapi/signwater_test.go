package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// signed is a sign-off of Sofia's kit check, made without coverage.
func (w *season) signed(when time.Time) body {
	e := entry("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": "kit-check"})
	e["signed_at"] = at(when)
	return e
}

// kitCheck gives how Sofia's kit check stands in her progress.
func (w *season) kitCheck() body {
	w.t.Helper()
	for _, k := range w.student.get("/v1/enrolments/" + w.sofia +
		"/progress").want(http.StatusOK).list("skills") {
		if k["code"] == "kit-check" {
			return k
		}
	}
	require.Fail(w.t, "no kit check")
	return nil
}

// Two instructors sign the same skill, and neither knows of the other. The one
// who signed later comes back into coverage first.
func TestTwoWhoSignASkillWithoutCoverageBothStand(t *testing.T) {
	w, p, now := aPhone(t)
	hers := phone{season: w, of: w.instructor, name: "hers"}
	rui := w.as(w.Crew("Rui Instructor", "instructor"))
	his := phone{season: w, of: rui, off: -2 * time.Minute, name: "his"}
	came := entry("roll_call", w.confined,
		body{"unexpected": body{"person_id": rui.person, "role": "instructor", "group_id": w.blue},
			"attendance": "present", "witnessed_at": p.at(saturday)})
	require.Equal(t, []any{"recorded"}, statuses(p.send(now, came)))
	noon := saturday.Add(4 * time.Hour)
	earlier, later := w.signed(noon), w.signed(noon.Add(3*time.Minute))
	require.Equal(t, []any{"recorded"}, statuses(his.send(now, later)))
	require.Equal(t, []any{"signed_off", later["id"]},
		[]any{w.kitCheck()["state"], w.kitCheck()["sign_off_id"]})
	require.Equal(t, []any{"recorded"}, statuses(hers.send(now, earlier)))

	for _, list := range []string{"/v1/enrolments/" + w.sofia + "/sign-offs", "/v1/sessions/" + w.confined +
		"/sign-offs"} {
		a := w.instructor.get(list).want(http.StatusOK)
		require.Equal(t, []string{earlier["id"].(string), later["id"].(string)}, a.ids(),
			"in the order of signing")
		require.Equal(t, []any{nil, w.instructor.person.String(), at(noon), 1.0},
			pick(a, "items.0.supports", "items.0.signed_by", "items.0.signed_at", "items.0.round"))
		require.Equal(t, []any{earlier["id"], rui.person.String(), at(noon.Add(5 * time.Minute)), 2.0},
			pick(a, "items.1.supports", "items.1.signed_by", "items.1.signed_at",
				"items.1.round"), "his clock was two minutes slow")
	}
	require.Equal(t, []any{"signed_off", earlier["id"]},
		[]any{w.kitCheck()["state"], w.kitCheck()["sign_off_id"]}, "the one signed first counts")
	w.instructor.post("/v1/sign-offs/"+earlier["id"].(string)+"/void",
		body{"reason": "the wrong student"}).want(http.StatusOK)
	require.Nil(t, w.instructor.get("/v1/sign-offs/"+later["id"].(string)).want(http.StatusOK).at("supports"))
	require.Equal(t, []any{"signed_off", later["id"]},
		[]any{w.kitCheck()["state"], w.kitCheck()["sign_off_id"]}, "what supported it counts now")
}

// Whichever arrives first, the sign-off stands, flagged, and says how it is
// cured; nobody completes over it.
func TestARollCallThatContradictsASignOffFlagsItAndBlocksCompletion(t *testing.T) {
	for _, signedFirst := range []bool{true, false} {
		w, _, now := aPhone(t)
		p := phone{season: w, of: w.instructor, name: "hers"}
		w.credit(w.sofia, true)
		roll := func(attendance string, when time.Time) body {
			return entry("roll_call", w.confined,
				body{"participant_id": w.part(w.confined, w.sofia), "attendance": attendance,
					"witnessed_at": at(when)})
		}
		sign, absent := w.signed(saturday.Add(4*time.Hour)), roll("absent", saturday.Add(time.Hour))
		completions, progress := "/v1/enrolments/"+w.sofia+"/completions", "/v1/enrolments/"+w.sofia+"/progress"
		sent := []body{absent, sign}
		if signedFirst {
			sent = []body{sign, absent}
		}
		require.Equal(t, []any{"recorded"}, statuses(p.send(now, sent[0])))
		require.Equal(t, true, w.instructor.post(completions+"?dry_run=true",
			nil).want(http.StatusOK).at("allowed"), "one alone contradicts nothing")
		require.Equal(t, []any{"recorded"}, statuses(p.send(now, sent[1])))

		require.Nil(t, w.instructor.get("/v1/sign-offs/"+
			sign["id"].(string)).want(http.StatusOK).at("voided_at"), "it stands")
		blocked := w.instructor.post(completions, nil).refused(http.StatusUnprocessableEntity, "rules_refused")
		flags := []body{blocked.by("syllabus.signed_though_absent")}
		flags = append(flags, w.student.get(progress).want(http.StatusOK).list("flags")...)
		require.Len(t, flags, 2)
		for _, f := range flags {
			require.Equal(t, []any{"syllabus.signed_though_absent", "forbidden"},
				[]any{f["rule"], f["severity"]})
			require.Contains(t, f["message"], "roll call does not have the student as there")
			require.Contains(t, f["subjects"], body{"type": "sign_off", "id": sign["id"]})
			var cures []any
			for _, c := range f["cures"].([]any) {
				cures = append(cures, c.(body)["code"], c.(body)["message"])
			}
			require.Equal(t, []any{"call_roll", "Call the roll again, if the student was there.",
				"sign_again", "Void this sign-off if it is for the wrong student."}, cures)
		}
		require.NotEmpty(t, w.kitCheck()["flags"])

		require.Equal(t, []any{"recorded"}, statuses(p.send(now, roll("present", saturday.Add(2*time.Hour)))))
		require.Empty(t, w.student.get(progress).list("flags"), "cured as it says")
		w.instructor.post(completions, nil).made()
	}
}

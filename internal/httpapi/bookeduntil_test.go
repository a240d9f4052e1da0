package httpapi_test

import (
	"net/http"
	"testing"
	"time"
)

// A session that ends before its planned end books nobody any longer: whoever
// was there is free for another one, from when it ended and not before.
func TestASessionThatEndsEarlyBooksNobodyAnyLonger(t *testing.T) {
	for what, end := range map[string]string{"broken off": "abandon", "closed": "close"} {
		t.Run(what, func(t *testing.T) {
			w := newSeason(t, open(t))
			to := "/v1/sessions/" + w.confined // 09:00 to 12:00 in Lisbon
			w.Clock(saturday)
			w.brief(w.confined, saturday)
			w.instructor.post(to+"/open", nil).want(http.StatusOK)
			plan := func(starts string) string {
				return w.manager.post("/v1/courses/"+w.course+"/sessions",
					body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
						"starts_local": "2026-06-06T" + starts, "ends_local": "2026-06-06T12:30"}).made()
			}
			lead := func(session string) answer {
				return w.manager.post("/v1/sessions/"+session+"/groups",
					body{"name": "red", "instructor_id": w.instructor.person})
			}
			early, late := plan("09:30"), plan("10:30")
			lead(late).refused(http.StatusUnprocessableEntity, "rules_refused").by("roster.double_booked")
			w.Clock(saturday.Add(time.Hour)) // ten o'clock
			w.instructor.post(to+"/"+end,
				map[string]body{"abandon": {"reason": "thunder"}, "close": {}}[end]).want(http.StatusOK)
			lead(early).refused(http.StatusUnprocessableEntity, "rules_refused").by("roster.double_booked")
			lead(late).want(http.StatusCreated)
		})
	}
}

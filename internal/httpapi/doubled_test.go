package httpapi_test

import (
	"net/http"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// Where the same request comes several times at once, one transaction begins
// anew because another took its ids. Each is answered with as many items as it
// asked for, none twice.
func TestARequestThatBeginsAnewIsAnsweredOnce(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	briefing := w.instructor.post("/v1/sessions/"+w.confined+"/briefings",
		body{"briefed_at": at(saturday), "convention": "digits_bar", "check_every": nil}).made()
	people := w.manager.get("/v1/sessions/" + w.confined + "/participants").want(http.StatusOK).list("items")
	for range 6 {
		var items []body
		for _, p := range people[:3] {
			items = append(items, body{"id": newID(), "person_id": p["person_id"], "how": "said_so",
				"witnessed_at": at(saturday)})
		}
		answers := make([]answer, 6)
		var at6 sync.WaitGroup
		for i := range answers {
			at6.Go(func() {
				answers[i] = w.instructor.post("/v1/briefings/"+briefing+"/acknowledgements",
					body{"items": items})
			})
		}
		at6.Wait()
		recorded := 0
		for _, a := range answers {
			require.Len(t, a.want(http.StatusOK).list("items"), 3)
			for i, r := range a.list("items") {
				require.Equal(t, items[i]["id"], r["id"])
				if r["status"] == "recorded" {
					recorded++
				}
			}
		}
		require.Equal(t, 3, recorded, "each was recorded by one of the six")
	}
}

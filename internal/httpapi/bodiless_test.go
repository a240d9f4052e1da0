package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Where the contract lists no body, one that comes along means nothing (RFC 9110,
// section 9.3.1): the answer is what it is without, of whatever type and size.
func TestABodyThatNobodyAskedForIsNotRead(t *testing.T) {
	w := newSeason(t, open(t))
	large := strings.Repeat("x", 2<<20)
	every(t, func(op *operation) bool { return op.RequestBody == nil && op.method != http.MethodDelete },
		func(t *testing.T, op *operation) {
			to, c := op.address(nil), w.boss.on(t)
			without := c.call(op.method, to, nil, op.versioned()...)
			for _, content := range []string{"<note/>", large} {
				with := c.call(op.method, to, content,
					append(op.versioned(), "Content-Type", "application/xml")...)
				require.Equal(t, without.status, with.status, "%s", with.text)
			}
		})
}

// A record that was read before is not sent again while nothing in it has changed,
// whenever it is made.
func TestARecordThatIsAsItWasIsNotSentAgain(t *testing.T) {
	w := newSeason(t, open(t))
	path := "/v1/enrolments/" + w.sofia + "/record"
	first := w.instructor.get(path).want(http.StatusOK)
	w.Clock(today.Add(90 * 60 * 1e9))
	again := w.instructor.get(path, "If-None-Match", first.header.Get("ETag")).want(http.StatusNotModified)
	require.Equal(t, first.header.Get("ETag"), again.header.Get("ETag"))
	w.credit(w.sofia, false)
	w.instructor.get(path, "If-None-Match", first.header.Get("ETag")).want(http.StatusOK)
}

// The interval of gas checks is answered as it was read; one longer than a day is
// none.
func TestTheIntervalOfChecksIsAnsweredAsItWasRead(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	to := "/v1/sessions/" + w.confined + "/briefings"
	brief := func(every body) answer {
		return w.instructor.post(to,
			body{"briefed_at": at(saturday), "convention": "digits_bar", "check_every": every})
	}
	for _, every := range []body{of(2, "min"), of(90, "s"), of(1440, "min")} {
		a := brief(every).want(http.StatusCreated)
		require.Equal(t, []any{every["value"], every["unit"]},
			[]any{a.at("check_every.value"), a.at("check_every.unit")})
	}
	brief(of(1441, "min")).refused(http.StatusBadRequest, "invalid_request")
	brief(of(1000000, "min")).refused(http.StatusBadRequest, "invalid_request")
}

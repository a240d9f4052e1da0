package httpapi_test

import (
	"encoding/xml"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/signal"
)

// Whoever makes an operation reachable without a token says so here.
var tokenFree = []string{"getGesture", "getGestureSheet", "getGestureStrip", "listGestures"}

func TestOnlyTheseNeedNoToken(t *testing.T) {
	var free []string
	for _, op := range theContract().operations {
		if op.free() {
			free = append(free, op.OperationId)
			require.Equal(t, http.MethodGet, op.method, "what anybody may call changes nothing")
			require.NotContains(t, op.statuses, "401")
			require.NotContains(t, op.statuses, "403")
		} else {
			require.Contains(t, op.statuses, "401", op.OperationId)
		}
	}
	slices.Sort(free)
	require.Equal(t, tokenFree, free)
}

// svg insists on an SVG document and gives its title.
func (a answer) svg() string {
	a.t.Helper()
	a.want(http.StatusOK)
	require.Equal(a.t, "image/svg+xml", a.header.Get("Content-Type"))
	var doc struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
		Title   string   `xml:"title"`
		Desc    string   `xml:"desc"`
	}
	require.NoError(a.t, xml.Unmarshal(a.text, &doc))
	require.NotEmpty(a.t, doc.Desc, "somebody who cannot see it reads what it shows")
	return doc.Title
}

func TestPicturesAreSeenWithoutAToken(t *testing.T) {
	nobody := open(t).holding("")
	list := nobody.get("/v1/gestures").want(http.StatusOK)
	items := list.list("items")
	require.Len(t, items, len(signal.Sights()))
	for _, g := range items {
		a := nobody.get(g["picture"].(string))
		require.Equal(t, g["title"], a.svg())
		require.Equal(t, "public, max-age=31536000, immutable", a.header.Get("Cache-Control"), "RFC 8246")
	}
	require.Equal(t, "Hand signals", nobody.get(list.at("sheet").(string)).svg())
	nobody.get("/v1/gestures", "If-None-Match", list.header.Get("ETag")).want(http.StatusNotModified)
	nobody.get("/v1/gestures/wink").refused(http.StatusNotFound, "not_found")
	nobody.get("/v1/gestures/Fist").refused(http.StatusBadRequest, "invalid_request")
}

// A picture that is asked for by its plain address, or by that of an earlier
// edition, is not kept for good: a drawing may be corrected.
func TestOnlyThePresentEditionIsKeptForGood(t *testing.T) {
	nobody := open(t).holding("")
	for _, address := range []string{"/v1/gestures/fist", "/v1/gestures/fist?drawing=of_old",
		"/v1/gesture-sheet"} {
		a := nobody.get(address)
		a.svg()
		require.NotContains(t, a.header.Get("Cache-Control"), "immutable")
		require.NotEmpty(t, a.header.Get("ETag"))
	}
}

func TestAStripShowsANumberInAnyConvention(t *testing.T) {
	nobody := open(t).holding("")
	// 1750 psi is reported as 1700, by the digits 1 and 7 (common practice).
	a := nobody.get("/v1/gesture-strips?style=digits&hands=1&unit=psi&value=1750")
	require.Equal(t, "1700 psi", a.svg())
	require.Contains(t, string(a.text), "<desc>one finger up, then two fingers sideways</desc>")
	require.Equal(t, "100 bar",
		nobody.get("/v1/gesture-strips?style=digits&hands=1&unit=bar&value=100&ten=fist").svg())
	nobody.get("/v1/gesture-strips?style=tee&hands=1&unit=bar&value=170").refused(http.StatusUnprocessableEntity, "rules_refused").by("signal.convention_unusable")
	nobody.get("/v1/gesture-strips?style=digits&hands=1&unit=bar&value=600").refused(http.StatusUnprocessableEntity, "rules_refused").by("signal.out_of_range")
	nobody.get("/v1/gesture-strips?style=digits&hands=1&unit=bar").refused(http.StatusBadRequest,
		"invalid_request")
	require.False(t, strings.Contains(string(a.text), "<script"))
}

package signal_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/signal"
	"tankside/internal/units"
)

// drawing is what a reader that cannot see it gets of an SVG document.
type drawing struct {
	XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	Role    string   `xml:"role,attr"`
	Label   string   `xml:"aria-label,attr"`
	ViewBox string   `xml:"viewBox,attr"`
	Title   string   `xml:"title"`
	Desc    string   `xml:"desc"`
}

func parse(t *testing.T, svg string) drawing {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
	}
	var d drawing
	require.NoError(t, xml.Unmarshal([]byte(svg), &d))
	return d
}

func TestEveryGestureHasItsOwnPictureAndItsWords(t *testing.T) {
	seen := map[string]signal.Gesture{}
	for _, s := range signal.Sights() {
		svg := s.Gesture.Picture()
		d := parse(t, svg)
		require.Equal(t, "img", d.Role)
		require.Equal(t, s.Title, d.Title)
		require.Equal(t, s.Text, d.Desc)
		require.NotEmpty(t, d.Label)
		require.Greater(t, strings.Count(svg, "<path"), 4, "%s is drawn", s.Gesture)
		require.Less(t, len(svg), 8_000, "%s loads quickly on a boat", s.Gesture)
		require.NotContains(t, svg, "NaN")
		require.NotContains(t, seen, svg, "%s", s.Gesture)
		seen[svg] = s.Gesture
		require.NotEmpty(t, s.Source)
	}
	require.Empty(t, signal.Gesture("wink").Picture())
}

// The same picture comes out every time, so that it can be cached for good.
func TestPicturesAreAlwaysTheSame(t *testing.T) {
	require.Equal(t, signal.ContactSheet(), signal.ContactSheet())
	for _, s := range signal.Sights() {
		require.Equal(t, s.Gesture.Picture(), s.Gesture.Picture())
	}
}

// Published sources are named only for the gestures whose text was seen.
func TestPublishedGesturesNameTheirSource(t *testing.T) {
	var named []signal.Gesture
	for _, s := range signal.Sights() {
		if strings.Contains(s.Source, "Common Hand Signals for Recreational Scuba Diving") {
			named = append(named, s.Gesture)
		} else {
			require.Contains(t, []string{"trade", "memory"}, s.Source, "%s", s.Gesture)
		}
	}
	require.Equal(t, []signal.Gesture{signal.FistOnChest, signal.HandAcrossThroat, signal.FingersToMouth,
		signal.FingersOnPalm}, named)
}

// At 360 pixels, the width of a phone, the smallest words of a strip stay
// near 10 pixels, in every convention and for every reading.
func TestStripsAreLegibleOnAPhone(t *testing.T) {
	const phone, smallest, least = 360.0, 25.0, 9.5
	for _, c := range everyConvention() {
		for r := units.Read(0, c.Unit); r.Compare(c.Most()) <= 0; r.Value += c.Step().Value {
			seq, _ := c.Encode(r)
			d := parse(t, c.Strip(seq, r.String()))
			require.Equal(t, r.String(), d.Title)
			require.Equal(t, seq.String(), d.Desc)
			width, err := strconv.ParseFloat(strings.Fields(d.ViewBox)[2], 64)
			require.NoError(t, err)
			require.GreaterOrEqual(t, smallest*phone/width, least, "%s %s is %g wide", c.Code, r, width)
		}
	}
}

func TestAStripSaysWhatEachSignCounts(t *testing.T) {
	for code, want := range map[string][]string{
		"digits_psi": {">2<", ">6<"}, "forearm_psi": {">2000 psi<", ">600 psi<"},
		"tee_psi": {">1500 psi<", ">1<"}, "fives_psi": {">500 psi<", ">100 psi<"},
	} {
		c := ready(t, code)
		seq, _ := c.Encode(*psi(2600))
		svg := c.Strip(seq, "2600 psi")
		for _, w := range want {
			require.Contains(t, svg, w, code)
		}
	}
}

func TestAHeadingCannotBreakOut(t *testing.T) {
	c := ready(t, "digits_bar")
	d := parse(t, c.Strip(signal.Sequence{signal.Fingers(1)}, `<script>&"`))
	require.Equal(t, `<script>&"`, d.Title)
}

func ExampleConvention_Strip() {
	c := signal.Ready()[0]
	seq, _ := c.Encode(units.Read(1700, units.UnitPSI))
	svg := c.Strip(seq, "1700 psi")
	fmt.Println(svg[strings.Index(svg, "<title>"):strings.Index(svg, "<rect")])
	// Output: <title>1700 psi</title><desc>one finger up, then two fingers sideways</desc>
}

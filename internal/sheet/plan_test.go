package sheet_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/sheet"
)

func quantity(x float64, unit string) gasplan.Quantity {
	return gasplan.Quantity{Value: x, Unit: unit}
}

func some(x float64, unit string) *gasplan.Quantity { return new(quantity(x, unit)) }

// common is the usual pair of a classroom: 11.1 L cylinders of 207 bar to 18 m,
// 20 L/min each, one gauge in bar and one in psi.
func common() gasplan.Input {
	cylinder := gasplan.CylinderInput{WaterVolume: some(11.1, "L"), WorkingPressure: some(207, "bar")}
	return gasplan.Input{
		Dive: gasplan.DiveInput{Depth: quantity(18, "m"), PlannedTime: quantity(20, "min"),
			SiteMaxDepth: some(16, "m")},
		Divers: []gasplan.DiverInput{
			{Key: "a", Name: "Ines <Duarte>", Cylinder: cylinder, Start: quantity(207, "bar"),
				BreathingRate: some(20, "L/min")},
			{Key: "b", Name: "Nuno Reis", Cylinder: cylinder, Start: quantity(3000, "psi"),
				BreathingRate: some(20, "L/min")},
		},
		Settings: gasplan.GasSettings{Law: "ideal", Stress: 1},
	}
}

func planned(t require.TestingT, in gasplan.Input) sheet.Plan {
	r, err := gasplan.Calculate(in)
	require.NoError(t, err)
	return sheet.Plan{Of: "Cove 1, dive 1", State: "Confirmed by Ines Duarte", Settled: true, Input: in,
		Result: r,
		Facts:  []sheet.Fact{{Label: "Site", Value: "North cove"}}, Accepted: []sheet.Fact{{Label: "Cold water",
			Value: "taken on by Ines Duarte: short dive"}}, Foot: "Made by hand."}
}

func written(t require.TestingT, write func(io.Writer) error) string {
	var b bytes.Buffer
	require.NoError(t, write(&b))
	return b.String()
}

// Common practice: the low-gas pressure for this pair comes out near 800 psi or
// 50 to 55 bar, by the ideal law with the default ascent and reserve.
func TestASheetHasEverythingThatIsAgreed(t *testing.T) {
	p := planned(t, common())
	html, text := written(t, p.HTML), written(t, p.Text)
	for form, s := range map[string]string{"html": html, "text": text} {
		for _, said := range []string{"Cove 1, dive 1", "Confirmed by Ines Duarte", "North cove", "55 bar",
			"800 psi", "207 bar", "3000 psi", "63 min", "Nuno Reis",
			"✕ Forbidden", "maximum depth is 16 m", "taken on by Ines Duarte: short dive", "20 L/min",
			"10 bar (150 psi) of reserve", "shares gas with Nuno Reis",
			"Local law, the training organisation", "Made by hand.", "Rule books: gas "} {
			require.Contains(t, strings.Join(strings.Fields(s), " "), said, form)
		}
		require.NotRegexp(t, `(?i)\bis safe\b|\bsafe dive\b`, s)
	}
	require.Contains(t, html, "Ines &lt;Duarte&gt;")
	require.Equal(t, 2, strings.Count(html, "<svg"))
	require.Contains(t, html,
		`aria-label="Nuno Reis starts with 3000 psi, turns at 800 psi, is low on gas at 800 psi, is expected to start the ascent after 20 min with`)
	for _, loads := range []string{"src=", "href=", "url(", "@import", "<link", "<script"} {
		require.NotContains(t, html, loads)
	}
	require.NotContains(t, html, `class="state open"`)
	p.Settled = false
	require.Contains(t, written(t, p.HTML), `class="state open"`, "an unsettled plan stands out")
}

// Whoever reads psi gets what is taken for granted in feet and psi too.
func TestASheetInPSITakesForGrantedInPSI(t *testing.T) {
	in := common()
	in.Divers[0].Start = quantity(3000, "psi")
	p := planned(t, in)
	for form, s := range map[string]string{"html": written(t, p.HTML), "text": written(t, p.Text)} {
		_, granted, ok := strings.Cut(strings.Join(strings.Fields(s), " "), "Taken for granted")
		require.True(t, ok, form)
		granted, _, _ = strings.Cut(granted, "Made by hand.")
		require.Contains(t, granted, "150 psi of reserve; no low-gas pressure is below 730 psi", form)
		require.NotRegexp(t, `\d (m|bar|L|m/min|L/min|°C)\b`, granted, form)
	}
}

// A rule that keeps gas for the way back has a turn pressure of its own.
func TestATurnIsShownWhereThereIsOne(t *testing.T) {
	in := common()
	html := written(t, planned(t, in).HTML)
	require.Contains(t, html, "Turn and low on gas at")
	require.NotContains(t, html, "Turn after")
	in.Settings.TurnRule = "thirds"
	html = written(t, planned(t, in).HTML)
	for _, said := range []string{"Turn at", "Low on gas at", "Turn after", `class="turn"`} {
		require.Contains(t, html, said)
	}
}

var number = regexp.MustCompile(`-?\d+(\.\d+)?`)

// Whatever is planned, the page is well formed and everything drawn stands in
// its figure; everybody has a line in the table and a figure.
func TestEveryFigureKeepsWithinItsFrame(t *testing.T) {
	sheets := 0
	defer func() { require.Greater(t, sheets, 50, "most of what is drawn can be worked out") }()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		r, err := gasplan.Calculate(in)
		if err != nil {
			require.ErrorIs(t, err, fault.Malformed.Err(),
				"where nothing can be worked out, it says so, and there is no sheet")
			return
		}
		sheets++
		html := written(t, sheet.Plan{Input: in, Result: r}.HTML)
		require.NotContains(t, html, "NaN")
		require.NotContains(t, html, "Inf")
		require.Equal(t, len(in.Divers), strings.Count(html, "<svg"))
		require.Equal(t, len(in.Divers), strings.Count(html, `<th scope="row">`))
		for _, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(html, -1) {
			wellFormed(t, svg)
			for _, drawn := range regexp.MustCompile(` (points|d|x|x1|x2|cx|y|y1|y2|cy)="([^"]*)"`).FindAllStringSubmatch(svg, -1) {
				most := 360.0
				if strings.Contains(drawn[1], "y") {
					most = 190
				}
				for _, n := range number.FindAllString(drawn[2], -1) {
					x, err := strconv.ParseFloat(n, 64)
					require.NoError(t, err)
					require.True(t, 0 <= x && x <= most, "%s=%s in %s", drawn[1], drawn[2], svg)
				}
			}
		}
		require.NotEmpty(t, written(t, sheet.Plan{Input: in, Result: r}.Text))
	})
}

func drawInput(t *rapid.T) gasplan.Input {
	in := gasplan.Input{Dive: gasplan.DiveInput{Depth: quantity(float64(rapid.IntRange(0, 40).Draw(t, "depth")),
		"m"),
		PlannedTime: quantity(float64(rapid.IntRange(1, 300).Draw(t, "time")), "min")}}
	in.Settings.TurnRule = rapid.SampledFrom([]string{"all_usable", "halves", "thirds"}).Draw(t, "rule")
	in.Settings.StopTime = some(float64(rapid.IntRange(0, 5).Draw(t, "stop")), "min")
	for i := range rapid.IntRange(2, 12).Draw(t, "people") {
		v := gasplan.DiverInput{Key: fmt.Sprint("p", i),
			Start: quantity(float64(rapid.IntRange(0, 300).Draw(t, "start")), "bar"),
			Cylinder: gasplan.CylinderInput{WaterVolume: some(float64(rapid.IntRange(3, 20).Draw(t, "size")),
				"L")}}
		if rapid.Bool().Draw(t, "psi") {
			v.Start = quantity(float64(rapid.IntRange(0, 4500).Draw(t, "start psi")), "psi")
		}
		in.Divers = append(in.Divers, v)
	}
	return in
}

func wellFormed(t require.TestingT, svg string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else {
			require.NoError(t, err, svg)
		}
	}
}

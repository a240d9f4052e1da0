package sheet_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/sheet"
)

// twelve is a plan of twelve people, eleven in bar and one in psi, of whom
// nothing is wrong.
func twelve(t *testing.T) sheet.Plan {
	t.Helper()
	in := gasplan.Input{Dive: gasplan.DiveInput{Depth: quantity(12, "m"), PlannedTime: quantity(20, "min"),
		WaterTemperature: some(18, "degC")}}
	for i := range 12 {
		v := gasplan.DiverInput{Key: fmt.Sprint("p", i), Name: fmt.Sprint("Diver Number ", i),
			Start: quantity(float64(180+i), "bar"), BreathingRate: some(18, "L/min"),
			Cylinder: gasplan.CylinderInput{WaterVolume: some(12, "L")}}
		if i == 11 {
			v.Start = quantity(3000, "psi")
		}
		in.Divers = append(in.Divers, v)
	}
	p := planned(t, in)
	require.Empty(t, p.Result.Findings)
	p.Accepted = nil
	return p
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// What is the same of several people is said once, with everybody's name and
// with what is a person's own; what is not the same stays apart.
func TestWhatIsTheSameOfSeveralPeopleIsSaidOnce(t *testing.T) {
	p := twelve(t)
	in := p.Input
	in.Dive.PlannedTime, in.Dive.Depth = quantity(60, "min"), quantity(20, "m")
	for i := range in.Divers {
		why := "training dive 1"
		if i == 2 {
			why = "as a physician says"
		}
		in.Divers[i].DepthLimits = []gasplan.DepthLimit{{Depth: quantity(12, "m"), Because: why}}
	}
	p = planned(t, in)
	html, text := oneLine(written(t, p.HTML)), oneLine(written(t, p.Text))
	for _, s := range []string{html, text} {
		require.Contains(t, s, "The plan goes to 20 m; for Diver Number 0 the limit is 12 m (training dive 1). Likewise Diver Number 1, Diver Number 3, Diver Number 4, Diver Number 5, "+
			"Diver Number 6, Diver Number 7, Diver Number 8, Diver Number 9, Diver Number 10, Diver Number 11 (65.62 ft, limit 39.37 ft).")
		require.Contains(t, s, "for Diver Number 2 the limit is 12 m (as a physician says).")
		require.Contains(t, s, "The gas of Diver Number 0 lasts 24 min; planned are 60 min. Likewise Diver Number 1, Diver Number 2 (25 min), ")
		require.Contains(t, s, "Diver Number 11 ("+p.Result.People[11].GasTime.Reading().String()+").")
		require.Contains(t, s, "Diver Number 10 and Diver Number 11 share gas with Diver Number 0.")
	}
	require.Len(t, p.Result.Findings.Only(finding.Forbidden), 24, "12 are too deep, and 12 too long")
	require.Equal(t, 3, strings.Count(html, `<li class="forbidden">`))
	require.Equal(t, 1, strings.Count(html, `<li class="caution">`))
}

// What is no person's own is never put together.
func TestFindingsOfNobodyStayApart(t *testing.T) {
	p := twelve(t)
	p.Result.Findings = finding.List{{Rule: "x", Severity: finding.Note, Message: "Mind the boat."},
		{Rule: "x", Severity: finding.Note, Message: "Mind the boat."}}
	require.Equal(t, 2, strings.Count(written(t, p.HTML), "Mind the boat."))
}

// A sheet of twelve stays one page of A4 as printed by Chromium with DejaVu
// Sans, a wide typeface, with up to 30 findings of one line (looked at when the
// room was measured): by being set smaller, and then without drawings on paper.
// No finding is left out.
func TestALongSheetMakesRoom(t *testing.T) {
	for n, setting := range map[int]string{0: `class="figures crowd"`, 7: `class="figures crowd"`,
		8: `class="figures crowd tight"`, 17: `class="figures crowd tight"`,
		18: `class="figures crowd tight bare"`, 30: `class="figures crowd tight bare"`} {
		p := twelve(t)
		for i := range n {
			p.Result.Findings = append(p.Result.Findings,
				finding.Finding{Rule: "x", Severity: finding.Forbidden,
					Message: fmt.Sprintf("Finding %d of a hundred characters%s.", i,
						strings.Repeat(" and more", 8))})
		}
		html := written(t, p.HTML)
		require.Contains(t, html, setting, n)
		require.Equal(t, n, strings.Count(html, `<li class="forbidden">`))
	}
}

package cli_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/cli"
	"tankside/internal/httpapi/contract"
)

func plan(stdin string, args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = cli.Plan(args, strings.NewReader(stdin), &o, &e)
	return status, o.String(), e.String()
}

func TestTheExamplesOfTheHelpOfPlanRunAsPrinted(t *testing.T) {
	status, help, errs := plan("", "-h")
	require.Equal(t, cli.Done, status)
	require.Empty(t, errs)
	require.Equal(t, 5, runExamples(t, help))
}

// common is the usual pair: 11.1 L cylinders at 207 bar, 20 L/min each, 18 m.
var common = []string{"--law", "ideal", "--stress", "1", "--depth", "18 m", "--time", "20 min"}

// Common practice: the low-gas pressure for two divers on an 11.1 L, 207 bar
// cylinder at 18 m comes out near 800 psi, or 50 to 55 bar, with 20 L/min each,
// 1 min to sort out, 9 m/min, 3 min at 5 m and 10 bar of reserve, by the ideal law.
func TestAPairGetsTheUsualLowGasPressure(t *testing.T) {
	status, out, errs := plan("",
		append(common, "--diver", "Ines: 207 bar in 11.1 L 207 bar, 20 L/min", "--diver",
			"Nuno: 3000 psi in 11.1 l 207 bar, 0.71 cu ft/min")...)
	require.Equal(t, cli.Done, status, errs)
	lines := strings.Split(out, "\n")
	require.Regexp(t, `^Ines +207 bar +5[05] bar `, lineOf(lines, "Ines  "))
	require.Regexp(t, `^Nuno +3000 psi +800 psi `, lineOf(lines, "Nuno  "))
	require.Contains(t, out, "Worked out, not stored and not confirmed")
	_, stressed, _ := plan("", "--law", "ideal", "--stress", "1.5", "--depth", "18 m", "--time", "20 min",
		"--diver", "Ines: 207 bar in 11.1 L 207 bar, 20 L/min", "--diver", "Nuno: 207 bar in 11.1 L 207 bar, 20 L/min")
	require.Regexp(t, `^Ines +207 bar +[67][05] bar `, lineOf(strings.Split(stressed, "\n"), "Ines  "),
		"stress raises it")
}

// A training dive counts from time in to time out: 12 min down to 80 ft and 6 min of
// ascent are 18.
func TestTheLeastTimeIsFromTimeInToTimeOut(t *testing.T) {
	try := func(least string) (int, string) {
		status, out, _ := plan("", "--depth", "80 ft", "--time", "12 min", "--least", least,
			"--diver", "Ines: 3050 psi in 80 cu ft 3000 psi", "--diver", "Nuno: 3050 psi in 80 cu ft 3000 psi")
		return status, out
	}
	status, out := try("15 min")
	require.Equal(t, cli.Done, status, out)
	require.NotContains(t, out, "must last at least")
	_, out = try("19 min")
	require.Contains(t, strings.Join(strings.Fields(out), " "),
		"18 min from time in to time out. The dive must last at least 19 min.")
	_, help, _ := plan("", "-h")
	require.Contains(t, help, "from time in to time out")
	require.Contains(t, help, "bottom time")
}

func lineOf(lines []string, begin string) string {
	for _, l := range lines {
		if strings.HasPrefix(l, begin) {
			return l
		}
	}
	return ""
}

// The answer is the contract's own: what it gives as input can be sent again, to
// the service too, and comes out the same.
func TestAPlanAsJSONCanBeSentAgain(t *testing.T) {
	args := append(common, "--json", "--worked", "--turn", "thirds", "--diver",
		"Ines: 200 bar in twin 12 L 232 bar, 18 L/min, 32 %", "--diver", "Nuno: 200 bar in 12 L")
	status, first, errs := plan("", args...)
	require.Equal(t, cli.Done, status, errs)
	var answer struct {
		Input  json.RawMessage `json:"input"`
		Worked []struct {
			Bar, Psi []struct{ Title, Text, Source string }
		} `json:"worked"`
	}
	require.NoError(t, json.Unmarshal([]byte(first), &answer))
	require.NotEmpty(t, answer.Worked[1].Psi[0].Source)
	require.NoError(t, contract.CheckBody("calculateGasPlan", answer.Input))
	file := filepath.Join(t.TempDir(), "plan.json")
	require.NoError(t, os.WriteFile(file, answer.Input, 0o600))
	_, again, errs := plan("", "--json", "--worked", "--file", file)
	require.JSONEq(t, first, again, errs)
}

func TestTheStepsAreShownInBarAndPSI(t *testing.T) {
	_, out, _ := plan("", append(common, "--worked", "--diver", "Ines: 200 bar in 11.1 L 207 bar, 20 L/min",
		"--diver", "Nuno: 200 bar in 11.1 L 207 bar, 20 L/min")...)
	// 20 L/min for two is 40; 18 m is 2.8 times the surface: 1 min of sorting out takes 112 L.
	require.Contains(t, out, "Sorting out: 1.00 min at 18.0 m: 1.00 × 40.0 L/min × 2.80 = 112 L.")
	require.Contains(t, out, "Ines, in psi\n")
	require.Contains(t, out, "Nuno, no-stop limit\n")
}

func TestAForbiddenPlanIsShownAndRefused(t *testing.T) {
	page := filepath.Join(t.TempDir(), "plan.html")
	status, out, _ := plan("",
		append(common, "--site", "16 m", "--html", page, "--diver", "Ines: 50 bar in 12 L", "--diver",
			"Nuno: 200 bar in 12 L")...)
	require.Equal(t, cli.Refused, status)
	require.Contains(t, out, "✕ Forbidden: The plan goes to 18 m; the site's maximum depth is 16 m.")
	html, err := os.ReadFile(page)
	require.NoError(t, err)
	require.Contains(t, string(html), "✕ Forbidden")
}

func TestWhatCannotBePlannedSaysWhatIsWanted(t *testing.T) {
	two := []string{"--diver", "Ines: 200 bar in 12 L 232 bar", "--diver", "Nuno: 200 bar in 12 L 232 bar"}
	dive := []string{"--depth", "18 m", "--time", "20 min"}
	for _, c := range []struct {
		name, stdin, want string
		args              []string
	}{
		{"nothing", "", "give the dive with --depth and --time", nil},
		{"one diver", "", "two or more divers", append(dive, two[:2]...)},
		{"a depth in bar", "", "18 bar is no depth", []string{"--depth", "18 bar"}},
		{"a diver without a cylinder", "", "want name, start and cylinder",
			[]string{"--diver", "Ines: 200 bar"}},
		{"a capacity without its pressure", "", "80 cu ft 3000 psi",
			[]string{"--diver", "Ines: 200 bar in 80 cu ft"}},
		{"neither rate nor oxygen", "", "neither a breathing rate",
			[]string{"--diver", "Ines: 200 bar in 12 L, quite a lot"}},
		{"no such rule", "", "all, halves or thirds", append(dive, "--turn", "quarters")},
		{"no breathing under stress", "", "want 1 or more", append(append(dive, "--stress", "0"), two...)},
		{"no such law", "", "real or ideal", append(append(dive, "--law", "murphy"), two...)},
		{"both ways", "{}", "--depth does not go with --file", append(dive, "--file", "-")},
		{"a bare word", "", "give each diver with --diver", append(append(dive, two...), "Nuno")},
		{"the same name twice", "", "Ines", append(dive, two[0], two[1], two[0], two[1])},
		{"psi taken for bar", "", "/divers/1/start",
			append(append(dive, two[2:]...), "--diver", "Rui: 3000 bar in 12 L", "--diver",
				"Lars: 4000 bar in 12 L")},
		{"no such file", "", "no such file", []string{"--file", "nowhere.json"}},
		{"no JSON", "{", "JSON", []string{"--file", "-"}},
		{"an unknown member", `{"dive": {"depth": {"value": 18, "unit": "m"}, "planned_time": {"value": 1, "unit": "min"}, "colour": "red"}, "divers": []}`, "colour", []string{"--file", "-"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := plan(c.stdin, c.args...)
			require.Equal(t, cli.Misused, status, out)
			require.Empty(t, out)
			require.Contains(t, errs, c.want)
		})
	}
}

func FuzzPlan(f *testing.F) {
	f.Add("Ines: 200 bar in 12 L 232 bar, 18 L/min", "18 m")
	f.Add("x: 0 psi in twins 9999999 cu ft 0 bar, 100 %, 0 cu ft/min", "0 ft")
	f.Fuzz(func(t *testing.T, diver, depth string) {
		status, out, errs := plan("", "--json", "--depth", depth, "--time", "20 min", "--diver", diver,
			"--diver", "Nuno: 200 bar in 12 L")
		require.Contains(t, []int{cli.Done, cli.Refused, cli.Misused}, status)
		if status == cli.Misused {
			require.NotEmpty(t, errs)
			return
		}
		require.True(t, json.Valid([]byte(out)))
	})
}

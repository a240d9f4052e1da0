package cli_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/cli"
)

var saturday = time.Date(2026, 6, 6, 7, 0, 0, 0, time.UTC)

// TestMain lets this test program stand in for tankside, so that the examples of
// a help page run as they are printed, by a shell.
func TestMain(m *testing.M) {
	if os.Getenv("STAND_IN_FOR_TANKSIDE") == "" {
		os.Exit(m.Run())
	}
	switch {
	case len(os.Args) > 1 && os.Args[1] == "nostop":
		os.Exit(cli.Nostop(os.Args[2:], saturday, os.Stdin, os.Stdout, os.Stderr))
	case len(os.Args) > 1 && os.Args[1] == "plan":
		os.Exit(cli.Plan(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(99)
}

func nostop(args ...string) (status int, out, errs string) { return nostopReading("", args...) }

// nostopReading has something on standard input.
func nostopReading(in string, args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = cli.Nostop(args, saturday, strings.NewReader(in), &o, &e)
	return status, o.String(), e.String()
}

func TestTheExamplesOfTheHelpRunAsPrinted(t *testing.T) {
	status, help, errs := nostop("-h")
	require.Equal(t, cli.Done, status)
	require.Empty(t, errs)
	require.Equal(t, 7, runExamples(t, help))
}

// runExamples runs the examples of a help page as they are printed, by a shell in
// a folder of its own, and counts them.
func runExamples(t *testing.T, help string) (ran int) {
	t.Helper()
	me, err := os.Executable()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.Symlink(me, filepath.Join(dir, "tankside")))
	for _, line := range strings.Split(help, "\n") {
		if !strings.HasPrefix(line, "  tankside ") && !strings.HasPrefix(line, "  echo ") {
			continue
		}
		cmd := exec.Command("sh", "-c", line)
		cmd.Dir = t.TempDir()
		cmd.Env = []string{"PATH=" + dir, "STAND_IN_FOR_TANKSIDE=1"}
		out, err := cmd.Output()
		require.NoError(t, err, "%s\n%s", line, out)
		require.Contains(t, strings.Join(strings.Fields(string(out)), " "),
			"Local law, the training organisation and the instructor in charge come first", line)
		if strings.Contains(line, "--json") {
			require.True(t, json.Valid(out))
		}
		ran++
	}
	return ran
}

// The figures are cells of the US Navy Diving Manual Rev 7, Tables 9-7 and 9-8:
// 60 fsw, 40 min: H; 1:40 on the surface: G; 40 fsw: 64 + 45 = 109: L.
func TestADayAsATable(t *testing.T) {
	status, out, _ := nostop("--dive", "09:00 18 m 40 min", "--dive", "11:20 12 m 45 min")
	require.Equal(t, cli.Done, status)
	require.Equal(t, `dive  in           out    depth  surface  group  row     residual  counts as  limit    at most  group after
1     06-06 09:00  09:40  18 m   -        -      60 fsw  0 min     40 min     63 min   63 min   H
2     06-06 11:20  12:05  12 m   1:40     G      40 fsw  64 min    109 min    163 min  99 min   L

No flight (cabin at 8000 ft) before 2026-06-07 06:05.

Planning by table, not a promise: people get decompression sickness within table limits. Local law, the training organisation and the instructor in charge come first.
`, out)
}

func TestADayAsJSON(t *testing.T) {
	status, out, _ := nostop("--json", "--worked", "--dive", "2026-06-06 09:00 18m 64min done", "--dive",
		"11:20 6 m 45 min")
	require.Equal(t, cli.Refused, status, "the limit is 63 min")
	var day api.NoStopDay // the contract's own form
	decoder := json.NewDecoder(strings.NewReader(out))
	decoder.DisallowUnknownFields()
	require.NoError(t, decoder.Decode(&day))
	first := day.Dives[0]
	require.True(t, first.Done)
	require.Equal(t, 60, first.RowFsw.MustGet())
	require.Equal(t, api.Quantity{Value: 63, Unit: "min"}, first.Limit.MustGet())
	require.True(t, first.GroupAfter.IsNull(), "not known outside the limits")
	require.Equal(t, "nostop.limit_exceeded", first.Findings[0].Rule)
	require.InDelta(t, 63, first.Findings[0].Limit.MustGet().Value.MustGet(), 0)
	require.Len(t, first.Worked.MustGet(), 6)
	require.True(t, day.Dives[1].Limit.IsNull(), "20 fsw is unlimited")
	require.Equal(t, "2026-06-08T10:04", day.Flying.MustGet().EarliestLocal.MustGet(), "48 h after 10:04")
}

// The figures are those of the day above: L after the second dive.
func TestAFileInTheFormOfTheAPI(t *testing.T) {
	const in = `{"dives": [{"depth": {"value": 18, "unit": "m"}, "under_time": {"value": 40, "unit": "min"}},
		{"key": "reef", "depth": {"value": 12, "unit": "m"}, "surface_interval": {"value": 100, "unit": "min"}, "under_time": {"value": 45, "unit": "min"}}]}`
	name := filepath.Join(t.TempDir(), "day.json")
	require.NoError(t, os.WriteFile(name, []byte(in), 0o600))
	status, fromFile, errs := nostop("--file", name, "--worked")
	require.Equal(t, cli.Done, status, errs)
	require.Regexp(t, `2 +- +45 min +12 m +1:40 +G +40 fsw +64 min +109 min +163 min +99 min +L`, fromFile)
	require.Contains(t, fromFile,
		"No flight (cabin at 8000 ft) for 18:00 (h:mm) after the dive that asks for most.")
	require.Contains(t, fromFile, "Dive 2, reef")
	_, fromInput, _ := nostopReading(in, "--file", "-", "--worked")
	require.Equal(t, fromFile, fromInput)

	for _, c := range []struct{ name, in, want string }{
		{"not JSON", `{`, "The body is not JSON"},
		{"a slip in a name", `{"dive": []}`,
			"at : There is no member 'dive' here. Leave it out, or correct its name."},
		{"a unit that is none", `{"look_up": {"depth": {"value": 18, "unit": "bar"}}}`,
			"at /look_up/depth/unit: It has to be one of 'm', 'ft'."},
		{"no end", `{"dives": [{"depth": {"value": 18, "unit": "m"}}]}`, "at /dives/0: Say when the dive ends"},
		{"nothing at all", ``, "needs a body"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := nostopReading(c.in, "--file", "-")
			require.Equal(t, cli.Misused, status)
			require.Empty(t, out)
			require.Contains(t, errs, strings.TrimPrefix(c.want, "at : "))
		})
	}
	_, _, errs = nostopReading(in, "--file", "-", "--cabin", "9000 ft")
	require.Contains(t, errs, "--cabin does not go with --file")
	_, _, errs = nostop("--file", filepath.Join(t.TempDir(), "none.json"))
	require.Contains(t, errs, "no such file")
}

// Rev 7 Table 9-6: H may go up to 3000 ft at once.
func TestGoingUpByRoad(t *testing.T) {
	status, out, _ := nostop("--dive", "09:00 18 m 40 min", "--up", "900 m", "--leave", "2026-06-06 10:00")
	require.Equal(t, cli.Done, status)
	require.Contains(t, out, "Not up to 900 m before 2026-06-06 09:40.")
}

func TestLookingUpOneDepth(t *testing.T) {
	_, out, _ := nostop("--depth", "40 ft", "--group", "e")
	require.Contains(t, out,
		"40 ft: row of 40 fsw, no-stop limit 163 min\ngroup E: residual nitrogen 45 min, which leaves 118 min\n")
	_, out, _ = nostop("--depth", "6 m", "--group", "L")
	require.Contains(t, out, "group L: no residual nitrogen time is needed here")
	_, out, _ = nostop("--depth", "12.4 m", "--by-foot")
	require.Contains(t, out, "row of 41 fsw, no-stop limit 155 min")
	_, out, _ = nostop("--depth", "18 m", "--json")
	var day api.NoStopDay
	require.NoError(t, json.Unmarshal([]byte(out), &day))
	require.Equal(t, api.Quantity{Value: 63, Unit: "min"}, day.LookedUp.MustGet().Limit.MustGet())
	status, out, _ := nostop("--depth", "60 m")
	require.Equal(t, cli.Refused, status)
	require.Contains(t, out, "190 fsw")
	require.Contains(t, out, "cure: Stay at 57.9 m")
}

// The tables hold at sea; above 300 ft depths beyond 145 fsw need the correction
// of the manual's altitude tables, above 1000 ft every depth (US Navy Diving
// Manual, Revision 7, 9-13), which are not held here.
func TestADepthIsLookedUpForTheAltitudeOfItsSite(t *testing.T) {
	for _, c := range []struct {
		depth, altitude string
		status          int
	}{
		{"18 m", "300 m", cli.Done}, {"18 m", "301 m", cli.Refused}, {"18 m", "2500 m", cli.Refused},
		{"44 m", "300 m", cli.Done}, {"45 m", "90 m", cli.Done}, {"45 m", "100 m", cli.Refused},
	} {
		for _, more := range [][]string{nil, {"--group", "K"}, {"--json"}} {
			status, out, _ := nostop(append([]string{"--depth", c.depth, "--altitude", c.altitude}, more...)...)
			require.Equal(t, c.status, status, "%v %v: %s", c, more, out)
			if c.status == cli.Refused {
				require.NotContains(t, out, "no-stop limit")
				require.Contains(t, out, "of altitude")
			}
		}
	}
}

func TestAFlightTooSoonIsRefused(t *testing.T) {
	status, out, _ := nostop("--dive", "09:00 10 m 30 min", "--leave", "2026-06-06 20:00")
	require.Equal(t, cli.Refused, status)
	require.Contains(t, out,
		"forbidden: A flight at 2026-06-06 20:00 is too soon after diving: the earliest is 2026-06-06 21:30.")
	status, out, _ = nostop("--dive", "09:00 10 m 30 min", "--cabin", "12000 ft")
	require.Equal(t, cli.Refused, status)
	require.NotContains(t, out, "No flight (", "nothing is known of it")
}

func TestWhatCannotBeReadSaysWhatIsWanted(t *testing.T) {
	for _, c := range []struct {
		name, want string
		args       []string
	}{
		{"nothing", "give --depth or --dive", nil},
		{"no depth", "like '09:00 18 m 40 min'", []string{"--dive", "09:00 40 min"}},
		{"no such hour", "25:00 is no date and time", []string{"--dive", "25:00 18 m 40 min"}},
		{"no such day", "2026-02-30 09:00 is no date and time",
			[]string{"--date", "2026-02-30", "--dive", "09:00 18 m 40 min"}},
		{"a depth in bar", "want m or ft", []string{"--depth", "18 bar"}},
		{"a depth without a unit", "want a number and a unit", []string{"--depth", "18"}},
		{"two points", "does not start with a number", []string{"--dive", "09:00 1.8.2 m 40 min"}},
		{"no such group", "want A to O, or Z", []string{"--depth", "18 m", "--group", "P"}},
		{"a depth of nothing", "more than 0", []string{"--depth", "0 m"}},
		{"a depth above the surface", "more than 0", []string{"--depth", "-3 m"}},
		{"leaving after no dive", "--leave is about dives",
			[]string{"--depth", "18 m", "--leave", "2026-06-06 20:00"}},
		{"going up after no dive", "--up is about dives", []string{"--depth", "18 m", "--up", "900 m"}},
		{"a margin to no dive", "--margin is about dives", []string{"--depth", "18 m", "--margin", "10"}},
		{"both ways", "do not go with --dive", []string{"--depth", "18 m", "--dive", "09:00 18 m 40 min"}},
		{"a dive without its flag", "give each dive with --dive", []string{"09:00 18 m 40 min"}},
		{"no margin", "whole number from 1 on", []string{"--margin", "0", "--depth", "18 m"}},
		{"no time to leave", "2026-06-08 08:00", []string{"--dive", "09:00 18 m 40 min", "--leave", "soon"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := nostop(c.args...)
			require.Equal(t, cli.Misused, status)
			require.Empty(t, out)
			require.Contains(t, errs, c.want)
			require.Contains(t, errs, "See tankside nostop -h.")
		})
	}
}

// FuzzNostopFile holds that no file makes the command panic or answer what is no
// JSON.
func FuzzNostopFile(f *testing.F) {
	f.Add(`{"dives": [{"depth": {"value": 18, "unit": "m"}, "in_local": "2026-06-06T09:00", "under_time": {"value": 40, "unit": "min"}}], "leave_local": "2026-06-06T09:00"}`)
	f.Add(`{"dives": [{"depth": {"value": 0, "unit": "m"}, "under_time": {"value": 1000000, "unit": "min"}}], "altitude": {"value": -1500, "unit": "m"}}`)
	f.Add(`{"look_up": {"depth": {"value": 18, "unit": "m"}, "group": "Z"}, "settings": {"no_stop_margin": {"value": 0.01, "unit": "s"}}}`)
	_, _, _ = nostopReading("{}", "--file", "-") // reads the contract once: longer than a fuzzer waits for one input
	f.Fuzz(func(t *testing.T, in string) {
		status, out, errs := nostopReading(in, "--json", "--worked", "--file", "-")
		if status == cli.Misused {
			require.NotEmpty(t, errs)
			return
		}
		require.True(t, json.Valid([]byte(out)))
	})
}

func FuzzNostop(f *testing.F) {
	f.Add("09:00 18 m 40 min", "8000 ft")
	f.Add("2026-06-06 23:59 0 ft 9999 min 99 ascents done", "-1 m")
	f.Fuzz(func(t *testing.T, dive, cabin string) {
		status, out, errs := nostop("--json", "--cabin", cabin, "--dive", dive)
		require.Contains(t, []int{cli.Done, cli.Refused, cli.Misused}, status)
		if status == cli.Misused {
			require.NotEmpty(t, errs)
			return
		}
		require.True(t, json.Valid([]byte(out)))
	})
}

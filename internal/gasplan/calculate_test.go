package gasplan_test

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/nostop"
)

func q(value float64, unit string) gasplan.Quantity {
	return gasplan.Quantity{Value: value, Unit: unit}
}

func qp(value float64, unit string) *gasplan.Quantity { return new(q(value, unit)) }

// pair is two divers on cylinders of 11.1 L and 207 bar, in the values of the
// issue: 20 L/min each, the ideal law, nobody stressed beyond that.
func pair(depth float64) gasplan.Input {
	diver := func(key, gauge string, start gasplan.Quantity) gasplan.DiverInput {
		return gasplan.DiverInput{Key: key, GaugeUnit: gauge, Start: start, BreathingRate: qp(20, "L/min"),
			Cylinder: gasplan.CylinderInput{WaterVolume: qp(11.1, "L"), WorkingPressure: qp(207, "bar")}}
	}
	return gasplan.Input{
		Dive: gasplan.DiveInput{Depth: q(depth, "m"), PlannedTime: q(25, "min")},
		Divers: []gasplan.DiverInput{diver("ines", "bar", q(200, "bar")),
			diver("sofia", "psi", q(2900, "psi"))},
		Settings: gasplan.GasSettings{Law: "ideal", Stress: 1},
	}
}

func Compute(t *testing.T, in gasplan.Input) gasplan.Result {
	t.Helper()
	r, err := gasplan.Calculate(in)
	require.NoError(t, err)
	return r
}

// Common practice: for two divers on an 11.1 L, 207 bar cylinder at 18 m the
// low-gas pressure comes out near 800 psi, 50 to 55 bar. By hand: 2 × 20 L/min
// breathe 112 L in 1 min at 2.8 times the surface pressure, 124.2 L in
// 13 m ÷ 9 m/min at 2.15, 180 L in 3 min at 1.5 and 27.8 L in 5 ÷ 9 min at
// 1.25: 444 L, which are 40.5 bar of 11.1 L; with 10 bar of reserve 50.5 bar,
// 733 psi.
func TestTwoDiversAt18MetresCallLowGasNear800PSI(t *testing.T) {
	r := Compute(t, pair(18))
	require.Equal(t, q(55, "bar"), r.People[0].Low)
	require.Equal(t, q(800, "psi"), r.People[1].Low)
	require.InDelta(t, 50.53, r.People[0].LowExact.Value, 0.02)
	require.InDelta(t, 444, r.People[0].AscentGas.Value, 1)

	// Stressed half as much again, as is our default: 666 L, 60.8 + 10 bar.
	in := pair(18)
	in.Settings.Stress = 0
	r = Compute(t, in)
	require.Equal(t, q(75, "bar"), r.People[0].Low)
	require.Equal(t, q(1100, "psi"), r.People[1].Low)
	require.Equal(t, q(60, "L/min"), r.People[0].StressedRate)
}

// Both gauges tell of one pressure: the agreed figures lie within one rounding
// step of each other (domain.md: 100 psi and 5 bar, both up).
func TestBarAndPSIAgree(t *testing.T) {
	const psi = 14.5038 // per bar; NIST Special Publication 811
	for _, depth := range []float64{6, 9, 12, 18, 24, 30} {
		r := Compute(t, pair(depth))
		bar, inPSI := r.People[0], r.People[1]
		require.InDelta(t, bar.LowExact.Value, inPSI.LowExact.Value/psi, 0.02)
		require.LessOrEqual(t, math.Abs(bar.Low.Value-inPSI.Low.Value/psi), 100/psi, "%v m", depth)
		require.Equal(t, "ft", inPSI.MixMaxDepth.Unit)
		require.Equal(t, "cu_ft", inPSI.Contents.Unit)
	}
}

// What is stored as JSON recomputes to the same result, byte for byte.
func TestAPlanReadAgainRecomputesToTheSame(t *testing.T) {
	in := pair(18).Filled()
	in.Dive.StartsAt = new(time.Date(2027, 6, 5, 9, 30, 0, 0, time.FixedZone("", 3600)))
	in.Divers[0].ParticipantID = new(uuid.New())
	in.Divers[1].EarlierDives = []gasplan.EarlierDive{{Depth: q(60, "ft"),
		InAt: in.Dive.StartsAt.Add(-3 * time.Hour), OutAt: in.Dive.StartsAt.Add(-2 * time.Hour)}}
	before := Compute(t, in)
	text, err := json.Marshal(in)
	require.NoError(t, err)
	var again gasplan.Input
	require.NoError(t, json.Unmarshal(text, &again))
	same := func(r gasplan.Result) string {
		b, err := json.Marshal(r)
		require.NoError(t, err)
		return string(b)
	}
	require.Equal(t, same(before), same(Compute(t, again)))
	refilled, err := json.Marshal(again.Filled())
	require.NoError(t, err)
	require.JSONEq(t, string(text), string(refilled), "to fill in again changes nothing")
}

// US Navy Diving Manual Rev 7, table 9-7: 60 fsw, no-stop limit 63 min. 18 m
// are 59.06 ft, so the row is that of 60 fsw. Whoever has dived before has less.
func TestTheNoStopLimitIsThatOfTheTable(t *testing.T) {
	in := pair(18)
	r := Compute(t, in)
	require.Equal(t, 60, r.People[0].NoStop.RowFSW)
	require.Equal(t, qp(63, "min"), r.People[0].NoStop.Limit)
	require.Equal(t, qp(63, "min"), r.Group.NoStopLimit)
	require.Equal(t, q(5, "min"), r.Group.AscentTime, "13 m and 5 m at 9 m/min, and 3 min at the stop")
	require.Equal(t, q(30, "min"), r.People[0].NoStop.Total, "25 min and the ascent")

	starts := time.Date(2027, 6, 5, 12, 0, 0, 0, time.UTC)
	in.Dive.StartsAt, in.Dive.PlannedTime = &starts, q(20, "min")
	in.Divers[1].EarlierDives = []gasplan.EarlierDive{{Depth: q(18, "m"), InAt: starts.Add(-110 * time.Minute),
		OutAt: starts.Add(-60 * time.Minute)}}
	r = Compute(t, in)
	require.Equal(t, "sofia", r.Group.NoStopLimitedBy)
	require.Equal(t, 2, r.People[1].NoStop.OfDay)
	require.NotEmpty(t, r.People[1].NoStop.GroupBefore)
	require.Less(t, r.Group.NoStopLimit.Value, 63.0)
	require.Empty(t, r.People[0].NoStop.GroupBefore)
}

func TestFindingsNameWhomTheyAreAbout(t *testing.T) {
	in := pair(18)
	in.Dive.PlannedTime = q(70, "min") // and 5 min up: 75 of 63
	id := uuid.New()
	in.Divers[1].ParticipantID = &id
	in.Divers[1].DepthLimits = []gasplan.DepthLimit{{Depth: q(12, "m"), Because: "aged 11"}}
	r := Compute(t, in)
	require.True(t, r.Findings.Forbids())
	require.Len(t, r.Findings.Of(nostop.RuleLimitExceeded), 2)
	require.Empty(t, r.Findings.Of(gas.OverNoStop), "said better of each person")
	deep := r.Findings.Of(gas.DepthOverPerson)
	require.Len(t, deep, 1)
	require.Equal(t, []finding.Subject{{Type: "participant", ID: id.String()}}, deep[0].Subjects)
	require.Contains(t, deep[0].Message, "aged 11")
}

// 300 m: above it every depth needs the manual's altitude correction, which is
// not among the references.
func TestASiteAbove300MetresIsRefusedWithTheReason(t *testing.T) {
	in := pair(18)
	in.Dive.Altitude = qp(320, "m")
	r := Compute(t, in)
	require.Len(t, r.Findings.Of(nostop.RuleAltitudeSite), 2)
	require.True(t, r.People[0].NoStop.OutsideTables)
	require.Nil(t, r.Group.NoStopLimit)
	in.Dive.Altitude = qp(90, "m")
	require.Empty(t, Compute(t, in).Findings.Of(nostop.RuleAltitudeSite))
}

// What no plan can be worked out from is pointed at, all of it at once.
func TestASlipIsPointedAt(t *testing.T) {
	for pointer, spoil := range map[string]func(*gasplan.Input){
		"/divers/1/start": func(in *gasplan.Input) { in.Divers[1].Start = q(29000, "psi") },
		"/divers/0/start": func(in *gasplan.Input) { in.Divers[0].Start = q(200, "m") },
		"/dive/depth": func(in *gasplan.Input) {
			in.Dive.Depth = q(180,
				"m")
			in.Dive.MeanDepth = qp(10, "m")
		},
		"/dive/mean_depth":   func(in *gasplan.Input) { in.Dive.MeanDepth = qp(20, "m") },
		"/dive/planned_time": func(in *gasplan.Input) { in.Dive.PlannedTime = q(0, "min") },
		"/dive/starts_at":    func(in *gasplan.Input) { in.Divers[0].EarlierDives = []gasplan.EarlierDive{{}} },
		"/divers/0/cylinder": func(in *gasplan.Input) {
			in.Divers[0].Cylinder.RatedCapacity = qp(80,
				"cu_ft")
		},
		"/divers/1/breathing_rate": func(in *gasplan.Input) {
			in.Divers[1].BreathingRate = qp(2,
				"L/min")
		},
		"/divers/1/key": func(in *gasplan.Input) { in.Divers[1].Key = "ines" },
		"/divers/0/team": func(in *gasplan.Input) {
			in.Divers[0].Team, in.Divers[1].Team = "a",
				"b"
		},
		"/divers":                        func(in *gasplan.Input) { in.Divers = in.Divers[:1] },
		"/settings/stress":               func(in *gasplan.Input) { in.Settings.Stress = 9 },
		"/settings/ascent_speed":         func(in *gasplan.Input) { in.Settings.AscentSpeed = qp(90, "m/min") },
		"/settings/oxygen_limit":         func(in *gasplan.Input) { in.Settings.OxygenLimit = qp(2, "atm") },
		"/settings/law":                  func(in *gasplan.Input) { in.Settings.Law = "boyle" },
		"/dive/water":                    func(in *gasplan.Input) { in.Dive.Water = "heavy" },
		"/divers/0/cylinder/count":       func(in *gasplan.Input) { in.Divers[0].Cylinder.Count = 3 },
		"/divers/0/filled_at":            func(in *gasplan.Input) { in.Divers[0].FilledAt = qp(90, "degC") },
		"/divers/1/oxygen":               func(in *gasplan.Input) { in.Divers[1].Oxygen = qp(12, "percent") },
		"/dive/visibility":               func(in *gasplan.Input) { in.Dive.Visibility = qp(1000, "m") },
		"/settings/no_stop_margin":       func(in *gasplan.Input) { in.Settings.NoStopMargin = qp(1, "bar") },
		"/divers/0/gauge_unit":           func(in *gasplan.Input) { in.Divers[0].GaugeUnit = "atm" },
		"/divers/0/depth_limits/0/depth": func(in *gasplan.Input) { in.Divers[0].DepthLimits = []gasplan.DepthLimit{{Depth: q(1, "bar")}} },
	} {
		t.Run(strings.ReplaceAll(pointer[1:], "/", "."), func(t *testing.T) {
			in := pair(18)
			spoil(&in)
			_, err := gasplan.Calculate(in)
			require.ErrorIs(t, err, fault.Malformed.Err())
			var f *fault.Fault
			require.True(t, errors.As(err, &f))
			var at []string
			for _, found := range f.Findings {
				at = append(at, found.Pointer)
				require.NotEmpty(t, found.Cures, found.Message)
			}
			require.Contains(t, at, pointer)
		})
	}
}

// The steps say the same as the plan, whichever gauge reads them.
func TestTheStepsEndInTheAgreedFigures(t *testing.T) {
	worked, err := gasplan.Explain(pair(18))
	require.NoError(t, err)
	require.Len(t, worked, 2)
	all := func(steps []gasplan.Step) string {
		var b strings.Builder
		for _, s := range steps {
			require.NotEmpty(t, s.Source, s.Title)
			b.WriteString(s.Text + "\n")
		}
		return b.String()
	}
	require.Contains(t, all(worked[0].Bar), "55 bar")
	require.Contains(t, all(worked[1].PSI), "800 psi")
	require.Contains(t, all(worked[1].NoStop), "60 fsw")
}

func TestWhatIsTakenForGrantedIsSaid(t *testing.T) {
	in := pair(18)
	in.Divers[1].BreathingRate = nil
	said := strings.Join(Compute(t, in).Assumptions, "\n")
	for _, word := range []string{"ideal law", "Salt water", "1 min to sort things out", "9 m/min",
		"3 min at 5 m", "10 bar (150 psi) of reserve",
		"Nothing is known of how much sofia breathes: 0.89 cu ft/min", "no dive in the 48 h before", "shares gas with ines"} {
		require.Contains(t, said, word)
	}
	require.NotContains(t, strings.ToLower(said), "safe ")
}

// By hand, with 0.3048 m to the foot and 14.5038 psi to the bar (NIST Special
// Publication 811): 18 m are 59.06 ft, 5 m 16.4 ft, 10 bar 145.04 psi and 50 bar
// 725.2 psi, all rounded up; 9 m/min are 29.5 ft/min, rounded down; 20 L/min are
// 0.706 cu ft/min, rounded up.
func TestWhatIsTakenForGrantedIsSaidInTheUnitsOfTheGauges(t *testing.T) {
	in := pair(18)
	in.Divers[0].GaugeUnit, in.Divers[0].Start = "psi", q(2900, "psi")
	said := strings.Join(Compute(t, in).Assumptions, "\n")
	for _, words := range []string{"Salt water: 32.8 ft add",
		"counts at 60 ft; gas for the ascent is reckoned from 60 ft", "ascent at 29 ft/min, 3 min at 17 ft",
		"150 psi of reserve; no low-gas pressure is below 730 psi", "taken at 68 °F", "ines breathes 0.71 cu ft/min"} {
		require.Contains(t, said, words)
	}
	require.NotRegexp(t, `\d (m|bar|L|m/min|L/min|°C)\b`, said)
	in.Divers[0].GaugeUnit, in.Divers[1].GaugeUnit, in.Dive.Depth, in.Dive.Water = "bar", "bar", q(60,
		"ft"), "fresh"
	said = strings.Join(Compute(t, in).Assumptions, "\n")
	for _, words := range []string{"Fresh water: 10.36 m add", "reckoned from 18.3 m",
		"ascent at 9 m/min, 3 min at 5 m", "10 bar of reserve", "taken at 20 °C"} {
		require.Contains(t, said, words)
	}
	require.NotRegexp(t, `\d (ft|psi|cu ft|ft/min|°F)\b`, said)
	in.Divers[1].GaugeUnit = "psi"
	said = strings.Join(Compute(t, in).Assumptions, "\n")
	for _, words := range []string{"34 ft (10.36 m) add", "reckoned from 60 ft (18.3 m)",
		"ascent at 9 m/min (29 ft/min), 3 min at 5 m (17 ft)", "below 50 bar (730 psi)"} {
		require.Contains(t, said, words, "both, where the gauges differ")
	}
}

// Whatever is sent, a plan comes out whose figures are numbers, or an error
// that points at something; never a panic.
func TestAnyInputGivesFiguresOrPointsAtSomething(t *testing.T) {
	units := []string{"bar", "psi", "m", "ft", "L", "cu_ft", "L/min", "min", "s", "degC", "percent", "atm", "",
		"furlong"}
	rapid.Check(t, func(t *rapid.T) {
		any := func(name string, usual gasplan.Quantity) gasplan.Quantity {
			if rapid.IntRange(0, 9).Draw(t, name) > 0 {
				return usual
			}
			return q(rapid.Float64().Draw(t, name+" value"), rapid.SampledFrom(units).Draw(t, name+" unit"))
		}
		in := pair(rapid.Float64Range(0, 60).Draw(t, "depth"))
		in.Dive.PlannedTime = any("planned", q(30, "min"))
		in.Dive.Altitude = new(any("altitude", q(0, "m")))
		in.Settings.StopTime = new(any("stop", q(3, "min")))
		in.Settings.AscentSpeed = new(any("speed", q(9, "m/min")))
		in.Settings.Floor = new(any("floor", q(50, "bar")))
		in.Divers[0].Start = any("start", q(200, "bar"))
		in.Divers[0].Oxygen = new(any("oxygen", q(32, "percent")))
		in.Divers[1].Cylinder = gasplan.CylinderInput{RatedCapacity: new(any("capacity", q(80, "cu_ft"))),
			RatedPressure: new(any("rating", q(3000, "psi")))}
		r, err := gasplan.Calculate(in)
		if err != nil {
			var f *fault.Fault
			require.True(t, errors.As(err, &f), "%v", err)
			require.NotEmpty(t, f.Findings)
			return
		}
		for _, p := range r.People {
			for _, x := range []gasplan.Quantity{p.Start, p.Contents, p.Low, p.Turn, p.ExpectedEnd, p.AtAscent,
				p.GasTime, p.TurnTime, p.MixMaxDepth} {
				require.True(t, x.Value >= 0 && x.Value < 1e6, "%+v", p)
			}
		}
	})
}

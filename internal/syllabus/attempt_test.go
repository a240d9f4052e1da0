package syllabus_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// The figures are those of instructor manuals (read): hover and free-flow 30 s,
// sharing 1 min, no-mask 15 m or 1 min; swim 200 m or 300 m (common practice).
func TestAttemptsAreHeldAgainstTheirCriterion(t *testing.T) {
	type figures = map[string]syllabus.Quantity
	for _, c := range []struct {
		name, skill string
		role        syllabus.Role
		measured    figures
		met         bool
		rule        *finding.Rule
	}{
		{"hover for 30 s", "hover", "", figures{"time-hovering": seconds(30)}, true, nil},
		{"hover for half a minute, by a watch in minutes", "hover", "", figures{"time-hovering": minutes(0.5)},
			true, nil},
		{"hover for 29 s", "hover", "", figures{"time-hovering": seconds(29)}, false,
			&syllabus.AttemptBelowCriterion},
		{"hover, not timed", "hover", "", nil, false, &syllabus.AttemptNotMeasured},
		{"hover, measured in metres", "hover", "", figures{"time-hovering": metres(30)}, false,
			&syllabus.AttemptWrongUnit},
		{"a value of no use beside a good one", "hover", "",
			figures{"time-hovering": seconds(40), "depth": metres(3)}, true, &syllabus.AttemptUnknownMeasure},
		{"a report drill, not counted", "gas-report", "", nil, true, &syllabus.AttemptNotMeasured},
		{"a report drill, right twice", "gas-report", "", figures{"right-reports": syllabus.CountOf(2)}, false,
			&syllabus.AttemptBelowCriterion},
		{"a gauge misread by 100 psi", "gauge-reading", "",
			figures{"reading-off-by": syllabus.QuantityOf(100, units.UnitPSI)}, true, nil},
		{"a gauge misread by 200 psi", "gauge-reading", "",
			figures{"reading-off-by": syllabus.QuantityOf(200, units.UnitPSI)}, false,
			&syllabus.AttemptBelowCriterion},
		{"sharing for 1 min as receiver", "gas-receiving", syllabus.Receiver,
			figures{"time-sharing": minutes(1)}, true, nil},
		{"sharing for 1 min as donor", "gas-receiving", syllabus.Donor, figures{"time-sharing": minutes(1)},
			false, &syllabus.AttemptRole},
		{"sharing for 1 min in no role", "gas-receiving", "", figures{"time-sharing": minutes(1)}, false,
			&syllabus.AttemptRole},
		{"a swim of 200 m", "swim", "", figures{"swim-without-aids": metres(200)}, true, nil},
		{"a swim of 199 m", "swim", "", figures{"swim-without-aids": metres(199)}, false,
			&syllabus.AttemptBelowCriterion},
		{"a swim of 300 m with snorkel", "swim", "", figures{"swim-with-snorkel": metres(300)}, true, nil},
		{"a swim of 250 m with snorkel", "swim", "", figures{"swim-with-snorkel": metres(250)}, false,
			&syllabus.AttemptBelowCriterion},
		{"a short swim without aids made good with snorkel", "swim", "",
			figures{"swim-without-aids": metres(100), "swim-with-snorkel": metres(300)}, true, nil},
		{"a swim of unknown length", "swim", "", nil, false, &syllabus.AttemptNotMeasured},
		{"one minute without a mask", "no-mask", "", figures{"time-without-mask": seconds(60)}, true, nil},
		{"an emergency ascent from 9 m", "emergency-ascent-open", "",
			figures{"depth-from": metres(9), "ascent-speed": syllabus.QuantityOf(15, units.UnitMPerMin)}, true,
			nil},
		{"an emergency ascent from 10 m", "emergency-ascent-open", "",
			figures{"depth-from": metres(10), "ascent-speed": syllabus.QuantityOf(15, units.UnitMPerMin)},
			false, &syllabus.AttemptBelowCriterion},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := *syllabus.BuiltIn().Skill(c.skill)
			a := syllabus.Attempt{ID: "a", Skill: c.skill, Role: c.role, Measured: c.measured, Met: true}
			met, found := syllabus.JudgeAttempt(k, a)
			require.Equal(t, c.met, met, found)
			require.Equal(t, c.met, !found.Forbids())
			if c.rule == nil {
				require.Empty(t, found)
			} else {
				require.NotEmpty(t, found.Of(*c.rule), found)
			}
			a.Met = false
			met, _ = syllabus.JudgeAttempt(k, a)
			require.False(t, met, "a witness may always say \"not yet\"")
		})
	}
}

func TestFailingFiguresOfAnHonestNotYetAreANote(t *testing.T) {
	k := *syllabus.BuiltIn().Skill("hover")
	_, found := syllabus.JudgeAttempt(k,
		syllabus.Attempt{ID: "a", Skill: "hover",
			Measured: map[string]syllabus.Quantity{"time-hovering": seconds(12)}})
	require.Len(t, found, 1)
	require.False(t, found.Forbids())
	require.Equal(t, "at least 30 s", found[0].Limit.Text)
	require.Equal(t, "12 s", found[0].Found.Text)
}

func TestNoAttemptIsMetBelowItsCriterion(t *testing.T) {
	s := syllabus.BuiltIn()
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(s.Skills).Draw(t, "skill")
		a := attempts(k, sunday, 0)[0]
		a.Met = rapid.Bool().Draw(t, "met")
		spoilt := false
		for name, q := range a.Measured {
			if rapid.Bool().Draw(t, "spoil "+name) {
				m := measureNamed(k, name)
				q.Value += map[bool]units.Decimal{true: -1, false: 1}[m.AtLeast != nil]
				a.Measured[name], spoilt = q, true
			}
		}
		met, _ := syllabus.JudgeAttempt(k, a)
		if want := a.Met && !spoilt; met != want {
			t.Fatalf("%s: met is %v, want %v: %v", k.Code, met, want, a.Measured)
		}
	})
}

func measureNamed(k syllabus.Skill, name string) syllabus.Measure {
	for _, m := range k.Criterion.Measures {
		if m.Name == name {
			return m
		}
	}
	for _, m := range k.Criterion.EitherOf[0].Measures {
		if m.Name == name {
			return m
		}
	}
	return syllabus.Measure{}
}

func TestQuantitiesAreWrittenAsTheyAreRead(t *testing.T) {
	for _, c := range []struct{ text, want string }{{"60 s", "60 s"}, {"200m", "200 m"}, {"3", "3"},
		{"9 m/min", "9 m/min"}, {"0.5 min", "0.5 min"}, {"75 percent", "75 percent"}, {"", ""}} {
		var q syllabus.Quantity
		require.NoError(t, q.UnmarshalText([]byte(c.text)), c.text)
		got, err := q.MarshalText()
		require.NoError(t, err)
		require.Equal(t, c.want, string(got))
	}
	for _, bad := range []string{"a minute", "60 parsecs", "-3", "3.5", "1e99 m"} {
		var q syllabus.Quantity
		require.Error(t, q.UnmarshalText([]byte(bad)), bad)
	}
	require.Equal(t, "75 %", percent(75).String())
	require.Equal(t, "3", syllabus.CountOf(3).String())
}

func FuzzQuantity(f *testing.F) {
	f.Add("60 s")
	f.Add("3")
	f.Add("9 m/min")
	f.Fuzz(func(t *testing.T, text string) {
		var q, again syllabus.Quantity
		if q.UnmarshalText([]byte(text)) != nil {
			return
		}
		written, err := q.MarshalText()
		require.NoError(t, err)
		require.NoError(t, again.UnmarshalText(written))
		require.Equal(t, q, again)
	})
}

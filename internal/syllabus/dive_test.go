package syllabus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// onDive gives the case of a student who has finished everything and wants to do
// the training dive of that number.
func onDive(n int) syllabus.DiveRequest {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Dives = st.Dives[:n-1]
	return syllabus.DiveRequest{Syllabus: s, Standing: st, Setting: syllabus.Open, Number: n,
		On: diveDone(n).On, Age: 30, Depth: metres(12), SiteMax: metres(30)}
}

func TestTrainingDivesMayBeDoneInOrder(t *testing.T) {
	for n := 1; n <= lastDive; n++ {
		require.Empty(t, syllabus.MayDive(onDive(n)), n)
	}
}

func TestEnteringTheWaterIsRefused(t *testing.T) {
	type c = syllabus.DiveRequest
	for _, x := range []struct {
		name  string
		dive  int
		spoil func(*c)
		rule  finding.Rule
	}{
		{"before the theory is passed", 1, func(c *c) { c.Standing.Theory[0].Mark = percent(60) },
			syllabus.DivePrerequisite},
		{"before the confined-water skill is signed off (practice)", 1,
			func(c *c) { voidIn(&c.Standing, "gas-giving") }, syllabus.DivePrerequisite},
		{"before the swim (common practice)", 1, func(c *c) { voidIn(&c.Standing, "swim") },
			syllabus.WatermanshipFirst},
		{"on a later dive without what an earlier one needs", 4, func(c *c) { voidIn(&c.Standing, "swim") },
			syllabus.WatermanshipFirst},
		{"dive 2 before dive 1", 2, func(c *c) { c.Standing.Dives = nil }, syllabus.DiveOrder},
		{"dive 2 after a dive 1 of 14 min (15 min, one manual)", 2,
			func(c *c) { c.Standing.Dives[0].Duration = minutes(14) }, syllabus.DiveOrder},
		{"dive 2 after a voided dive 1", 2, func(c *c) { c.Standing.Dives[0].Voided = true },
			syllabus.DiveOrder},
		{"a fourth time that day (3 a day, one manual)", 4, func(c *c) {
			for i := range c.Standing.Dives {
				c.Standing.Dives[i].On = c.On
			}
		}, syllabus.TooManyDives},
		{"dive 1 to 13 m (12 m, manuals)", 1, func(c *c) { c.Depth = metres(13) }, syllabus.DepthOverLimit},
		{"dive 4 to 19 m (18 m, manuals)", 4, func(c *c) { c.Depth = metres(19) }, syllabus.DepthOverLimit},
		{"dive 4 to 15 m at 11 years (12 m, manuals)", 4, func(c *c) { c.Depth, c.Age = metres(15), 11 },
			syllabus.DepthOverLimit},
		{"deeper than the site", 4, func(c *c) { c.SiteMax = metres(9) }, syllabus.DepthOverLimit},
		{"at 9 years (10, manuals)", 1, func(c *c) { c.Age = 9 }, syllabus.TooYoung},
		{"withdrawn", 1, func(c *c) { c.Standing.State = syllabus.Withdrawn }, syllabus.EnrolmentNotActive},
		{"on no dive of the syllabus", 1, func(c *c) { c.Number = 5 }, syllabus.UnknownDive},
		{"to 6 m in confined water (5 m, one manual)", 1,
			func(c *c) {
				c.Setting, c.Number, c.Depth = syllabus.Confined, 0,
					metres(6)
			}, syllabus.DepthOverLimit},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := onDive(x.dive)
			require.Empty(t, syllabus.MayDive(c))
			x.spoil(&c)
			found := syllabus.MayDive(c)
			require.True(t, found.Forbids())
			require.NotEmpty(t, found.Of(x.rule), found)
		})
	}
}

// voidIn voids the sign-off of a skill.
func voidIn(st *syllabus.Standing, skill string) {
	for i := range st.SignOffs {
		if st.SignOffs[i].Skill == skill {
			st.SignOffs[i].Voided = true
		}
	}
}

func TestConfinedWaterAsksNothingBefore(t *testing.T) {
	c := syllabus.DiveRequest{Syllabus: syllabus.BuiltIn(), Standing: active(), Setting: syllabus.Confined,
		On: friday, Age: 10, Depth: metres(5)}
	require.Empty(t, syllabus.MayDive(c))
}

func TestACreditedDiveCountsAsDone(t *testing.T) {
	c := onDive(2)
	c.Standing.Dives = nil
	c.Standing.Credits = []syllabus.Credit{{ID: "credit-1", Dive: 1, Duration: minutes(30)}}
	require.Empty(t, syllabus.MayDive(c))
	require.Equal(t, 2, syllabus.NextDive(c.Syllabus, c.Standing))
}

// 15 min and 5 m: one instructor manual (read).
func TestDivesCountWhenLongAndDeepEnough(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, c := range []struct {
		name   string
		spoil  func(*syllabus.DiveDone)
		counts bool
		rule   *finding.Rule
	}{
		{"25 min to 10 m", func(*syllabus.DiveDone) {}, true, nil},
		{"15 min to 5 m", func(d *syllabus.DiveDone) { d.Duration, d.Depth = minutes(15), metres(5) }, true,
			nil},
		{"900 s", func(d *syllabus.DiveDone) { d.Duration = seconds(900) }, true, nil},
		{"14 min", func(d *syllabus.DiveDone) { d.Duration = minutes(14) }, false, &syllabus.DiveTooShort},
		{"4.9 m", func(d *syllabus.DiveDone) { d.Depth = metres(4.9) }, false, &syllabus.DiveTooShallow},
		{"no time out", func(d *syllabus.DiveDone) { d.Duration = syllabus.Quantity{} }, false,
			&syllabus.DiveIncomplete},
		{"no depth", func(d *syllabus.DiveDone) { d.Depth = syllabus.Quantity{} }, false,
			&syllabus.DiveIncomplete},
		{"12.5 m happened", func(d *syllabus.DiveDone) { d.Depth = metres(12.5) }, true,
			&syllabus.DiveBeyondLimit},
		{"42 ft happened", func(d *syllabus.DiveDone) { d.Depth = syllabus.QuantityOf(42, units.UnitFoot) },
			true, &syllabus.DiveBeyondLimit},
		{"no training dive", func(d *syllabus.DiveDone) { d.Number = 0 }, false, &syllabus.UnknownDive},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := diveDone(1)
			c.spoil(&d)
			counts, found := syllabus.JudgeDive(s, d)
			require.Equal(t, c.counts, counts, found)
			if c.rule == nil {
				require.Empty(t, found)
			} else {
				require.NotEmpty(t, found.Of(*c.rule))
			}
		})
	}
	d := diveDone(1)
	d.Voided = true
	counts, _ := syllabus.JudgeDive(s, d)
	require.False(t, counts, "a voided dive counts for nothing")
}

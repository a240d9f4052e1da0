package ratio_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/ratio"
	"tankside/internal/units"
)

// What the sources say of depth. Code du sport, annex III-16a: first dives to
// 6 m, beginners' training to 20 m; Murcia, regional order of June 2015: 12 and
// 13 years to 10 m; ISO 24801-1:2014 clause 4, summary: supervised divers to
// 12 m (all seen). The other sources say nothing of depth beside their figures,
// and no limit is made up for them.
func TestHowDeepTheBooksLetAStudentGo(t *testing.T) {
	for _, c := range []struct {
		name  string
		books []string
		level ratio.Level
		age   int
		depth units.Depth // 0: none
		why   string
	}{
		{"France, a first dive", []string{"france"}, ratio.Introductory, 30, 6, "France, first dives"},
		{"France, a beginner", []string{"france"}, ratio.EntryLevel, 30, 20, "France, beginners' training"},
		{"France, certified divers", []string{"france"}, ratio.Guided, 30, 0, ""},
		{"Murcia at 12", []string{"murcia-minors"}, ratio.EntryLevel, 12, 10, "Murcia, minors, aged 12 and 13"},
		{"Murcia at 13", []string{"murcia-minors"}, ratio.Introductory, 13, 10,
			"Murcia, minors, aged 12 and 13"},
		{"Murcia at 14", []string{"murcia-minors"}, ratio.EntryLevel, 14, 0, ""},
		{"Murcia, of age", []string{"murcia-minors"}, ratio.EntryLevel, 18, 0, ""},
		{"supervised divers", []string{"iso-24801-1"}, ratio.Supervised, 30, 12,
			"Supervised divers with a leader, supervised divers"},
		{"the strictest of two", []string{"france", "murcia-minors"}, ratio.EntryLevel, 13, 10,
			"Murcia, minors, aged 12 and 13"},
		{"the strictest of two, whatever their order", []string{"murcia-minors", "france"}, ratio.Introductory,
			13, 6, "France, first dives"},
		{"the other of two", []string{"france", "murcia-minors"}, ratio.EntryLevel, 14, 20,
			"France, beginners' training"},
		{"general practice", ratio.GeneralPractice(), ratio.EntryLevel, 10, 0, ""},
		{"Queensland", []string{"queensland-introductory"}, ratio.Introductory, 30, 0, ""},
		{"Thailand", []string{"thailand-2025"}, ratio.EntryLevel, 30, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, water := range waters {
				got := ratio.DepthLimit(books(t, c.books...), water, c.level, c.age)
				require.Equal(t, c.depth, got.Depth)
				require.Equal(t, c.why, got.Why)
				require.Equal(t, c.depth > 0, got.Source != "")
			}
		})
	}
	require.Contains(t, ratio.DepthLimit(books(t, "france"), ratio.Open, ratio.EntryLevel, 30).Source,
		"Code du sport, annex III-16a")
	require.Zero(t, ratio.DepthLimit(books(t, "france"), ratio.Theory, ratio.EntryLevel, 30),
		"theory has no depth")
}

// For a student alone the limit is where the group's judgement has it.
func TestADepthLimitIsWhereAGroupOfOneIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		age, depth := someAge.Draw(t,
			"age"), rapid.SampledFrom([]units.Depth{5, 6, 6.1, 10, 10.1, 12, 12.1, 20, 20.1}).Draw(t, "to")
		g.Ages, g.MaxDepth = []int{age}, &depth
		limit := ratio.DepthLimit(applied, g.Setting, g.Level, age).Depth
		if ratio.Judge(applied, g).Places > 0 {
			require.True(t, limit == 0 || depth <= limit)
		}
		if g.Instructor {
			require.Equal(t, limit > 0 && depth > limit,
				len(ratio.Judge(applied, g).Findings.Of(ratio.TooDeep)) > 0)
		}
	})
}

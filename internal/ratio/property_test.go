package ratio_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

var (
	waters  = []ratio.Setting{ratio.Confined, ratio.Open}
	grades  = []ratio.Level{ratio.Introductory, ratio.EntryLevel, ratio.Supervised, ratio.Guided}
	someAge = rapid.IntRange(7, 40)
)

// subset draws some of a list, at least one.
func subset[T any](t *rapid.T, from []T, label string) []T {
	return rapid.Permutation(from).Draw(t, label)[:rapid.IntRange(1, len(from)).Draw(t, label+" count")]
}

// anyLine draws a valid line.
func anyLine(t *rapid.T) ratio.Line {
	l := ratio.Line{
		Title: "drawn", Settings: subset(t, waters, "settings"), Levels: subset(t, grades, "levels"),
		OnlyLimits:   rapid.IntRange(0, 4).Draw(t, "only limits") == 0,
		PerAssistant: rapid.IntRange(0, 4).Draw(t, "per assistant"),
	}
	l.Places = rapid.SliceOfN(rapid.IntRange(0, 14), 1, 4).Draw(t, "places")
	slices.Sort(l.Places)
	if rapid.Bool().Draw(t, "capped") {
		l.Cap = l.Places[len(l.Places)-1] + rapid.IntRange(1, 6).Draw(t, "room below the cap")
	}
	if rapid.Bool().Draw(t, "has ages") {
		l.AgeFrom = rapid.IntRange(0, 15).Draw(t, "from")
		l.AgeTo = rapid.SampledFrom([]int{0, 15, 17, 25}).Draw(t, "to")
		l.MinAge = rapid.SampledFrom([]int{0, 0, 8, 12}).Draw(t, "least age")
	}
	if rapid.IntRange(0, 3).Draw(t, "mix") == 0 {
		l.Young = &ratio.Mix{Below: 12, PerHead: rapid.IntRange(0, 3).Draw(t, "per head"),
			OthersFrom: rapid.SampledFrom([]int{0, 12, 15}).Draw(t, "others")}
	}
	if rapid.IntRange(0, 3).Draw(t, "shallow") == 0 {
		l.MaxDepth = 12 * units.Metre
	}
	for _, c := range subset(t, []ratio.Cause{ratio.ByEye, ratio.Visibility, ratio.Current, ratio.Cold},
		"causes") {
		fewer := 0
		if c != ratio.ByEye {
			fewer = rapid.IntRange(0, 3).Draw(t, "fewer")
		}
		l.Conditions = append(l.Conditions, ratio.Condition{Text: "drawn", Cause: c, Fewer: fewer})
	}
	return l
}

// anyBooks draws valid books, built-in ones and the centre's own.
func anyBooks(t *rapid.T, most int) []ratio.Book {
	out := subset(t, ratio.Builtin(), "built in")
	out = out[:min(len(out), rapid.IntRange(0, most).Draw(t, "how many built in"))]
	for i := range rapid.IntRange(0, most).Draw(t, "own books") {
		b := own("own-"+string(rune('a'+i)), 0)
		b.Lines = nil
		for range rapid.IntRange(1, 3).Draw(t, "lines") {
			b.Lines = append(b.Lines, anyLine(t))
		}
		require.NoError(t, ratio.Validate(b))
		out = append(out, b)
	}
	return out
}

// maybe draws a value or nil.
func maybe[T any](t *rapid.T, from []T, label string) *T {
	if rapid.Bool().Draw(t, label+" unknown") {
		return nil
	}
	x := rapid.SampledFrom(from).Draw(t, label)
	return &x
}

// anyGroup draws a group in the water.
func anyGroup(t *rapid.T) ratio.Group {
	assistants := rapid.IntRange(0, 5).Draw(t, "assistants")
	return ratio.Group{
		Setting:    rapid.SampledFrom(waters).Draw(t, "setting"),
		Level:      rapid.SampledFrom(grades).Draw(t, "level"),
		Ages:       rapid.SliceOfN(someAge, 0, 14).Draw(t, "ages"),
		Assistants: assistants, NotDiving: rapid.IntRange(0, assistants).Draw(t, "not diving"),
		Uncounted:  rapid.IntRange(0, 1).Draw(t, "uncounted"),
		Instructor: rapid.IntRange(0, 9).Draw(t, "no instructor") > 0,
		Ashore:     rapid.IntRange(0, 4).Draw(t, "leader ashore") == 0,
		LoweredTo:  maybe(t, []int{-1, 0, 3, 8, 40}, "lowered"),
		MaxDepth:   maybe(t, []units.Depth{5, 11, 18}, "depth"),
		Bottom:     maybe(t, []units.Depth{5, 12, 30}, "bottom"),
		Conditions: ratio.Conditions{
			Visibility: maybe(t, []units.Depth{1, 2, 10}, "visibility"),
			Current:    maybe(t, []units.Speed{0, 15, 30}, "current"),
			Temperature: maybe(t, []units.Temperature{units.Celsius(4), units.Celsius(10), units.Celsius(28)},
				"temperature"),
		},
	}
}

// naive works out the places of a group with students in it anew, question by
// question as domain and sources ask them, without the package's code.
func naive(applied []ratio.Book, g ratio.Group) int {
	var lines []ratio.Line // that are about this water and level
	for _, b := range applied {
		for _, l := range b.Lines {
			if slices.Contains(l.Settings, g.Setting) && slices.Contains(l.Levels, g.Level) {
				lines = append(lines, l)
			}
		}
	}
	if !g.Instructor {
		return 0
	}
	for _, age := range g.Ages {
		spoken := false
		for _, l := range lines {
			if !l.OnlyLimits && l.AgeFrom <= age && (l.AgeTo == 0 || age <= l.AgeTo) {
				spoken = true
			}
		}
		if !spoken {
			return 0
		}
	}
	places := 1_000_000
	for _, l := range lines {
		somebody := false
		for _, age := range g.Ages {
			somebody = somebody || l.AgeTo == 0 || age <= l.AgeTo
		}
		if somebody {
			places = min(places, naiveLine(l, g))
		}
	}
	if g.LoweredTo != nil {
		places = min(places, max(0, *g.LoweredTo))
	}
	return places
}

func naiveLine(l ratio.Line, g ratio.Group) int {
	young := 0
	for _, age := range g.Ages {
		if age < l.MinAge {
			return 0
		}
		if l.Young != nil && age < l.Young.Below {
			young++
		}
	}
	if young > 0 {
		for _, age := range g.Ages {
			if age >= l.Young.Below && age < l.Young.OthersFrom {
				return 0
			}
		}
		if young > l.Young.PerHead+l.Young.PerHead*g.Assistants {
			return 0
		}
	}
	if g.MaxDepth != nil && l.MaxDepth != 0 && *g.MaxDepth > l.MaxDepth {
		return 0
	}
	figures := slices.Clone(l.Places)
	for len(figures) <= g.Assistants {
		figures = append(figures, figures[len(figures)-1]+l.PerAssistant)
	}
	places := figures[g.Assistants]
	if l.Cap > 0 && places > l.Cap {
		places = l.Cap
	}
	now := g.Conditions
	for _, c := range l.Conditions {
		if c.Cause == ratio.Visibility && now.Visibility != nil && *now.Visibility < 2 ||
			c.Cause == ratio.Current && now.Current != nil && *now.Current > 15 || // 0.25 m/s
			c.Cause == ratio.Cold && now.Temperature != nil && now.Temperature.Celsius() < 10 {
			places -= c.Fewer
		}
	}
	return max(places, 0)
}

func TestPlacesAgreeWithANaiveReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		v := ratio.Judge(applied, g)
		if len(g.Ages) > 0 {
			require.Equal(t, naive(applied, g), v.Places)
		}
		require.GreaterOrEqual(t, v.Places, 0)
	})
}

// The contract with the database: n students are allowed exactly when n <= Places.
func TestFindingsForbidExactlyBeyondThePlaces(t *testing.T) {
	known := map[string]finding.Rule{}
	for _, r := range ratio.Rules() {
		known[r.ID] = r
	}
	rapid.Check(t, func(t *rapid.T) {
		g := anyGroup(t)
		v := ratio.Judge(anyBooks(t, 3), g)
		require.Equal(t, len(g.Ages) > v.Places, v.Findings.Forbids())
		for _, f := range v.Findings {
			require.Contains(t, known, f.Rule)
			require.NotEmpty(t, f.Source)
			if len(g.Ages) > 0 {
				require.Equal(t, known[f.Rule].Severity, f.Severity)
			}
			if f.Severity == finding.Forbidden {
				require.NotEmpty(t, f.Cures)
			}
		}
	})
}

// A book that ends a silence is the one exception, and the reason to add one.
func TestAnotherBookNeverAddsPlaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		g.Ages = append(g.Ages, someAge.Draw(t, "first"))
		before := ratio.Judge(applied, g)
		if len(before.Findings.Of(ratio.NoNumber)) > 0 {
			return
		}
		after := ratio.Judge(append(applied, anyBooks(t, 2)...), g)
		require.LessOrEqual(t, after.Places, before.Places)
	})
}

func TestAnotherStudentNeverAddsPlaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		before := ratio.Judge(applied, g).Places
		g.Ages = append(g.Ages, someAge.Draw(t, "who joins"))
		require.LessOrEqual(t, ratio.Judge(applied, g).Places, before)
	})
}

func TestAnotherAssistantNeverRemovesPlaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		before := ratio.Judge(applied, g).Places
		g.Assistants++
		require.GreaterOrEqual(t, ratio.Judge(applied, g).Places, before)
	})
}

func TestLoweringNeverRaises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		g.LoweredTo = nil
		before := ratio.Judge(applied, g).Places
		to := rapid.IntRange(-2, 50).Draw(t, "to")
		g.LoweredTo = &to
		require.Equal(t, min(before, max(to, 0)), ratio.Judge(applied, g).Places)
	})
}

// Each book is judged beside one that allows everything, so that its silence
// alone refuses nobody.
func TestTheStrictestIsTheLeastOfTheSingleBooks(t *testing.T) {
	wide := own("wide", 100)
	wide.Lines[0].Settings, wide.Lines[0].Levels = waters, grades
	rapid.Check(t, func(t *rapid.T) {
		applied, g := anyBooks(t, 3), anyGroup(t)
		least := ratio.Judge([]ratio.Book{wide}, g).Places
		for _, b := range applied {
			least = min(least, ratio.Judge([]ratio.Book{b, wide}, g).Places)
		}
		require.Equal(t, least, ratio.Judge(append(applied, wide), g).Places)
	})
}

// Whatever nonsense stands in a book that nobody validated, a verdict is given,
// no place is negative and the contract with the database holds.
func FuzzJudge(f *testing.F) {
	f.Add("open", "entry_level", []byte{30, 14, 11}, 1, 0, 8, []byte{4, 6, 8}, 0, 12, 2, "m", 1.5, 12.0)
	f.Add("confined", "", []byte{}, -1, -1, -1, []byte{}, -5, -1, 1<<62, "bar", -1.0, -3.0)
	f.Fuzz(func(t *testing.T, setting, level string, ages []byte, assistants, uncounted, lowered int,
		places []byte, per, limit, fewer int, unit string, measured, depth float64) {
		g := ratio.Group{
			Setting: ratio.Setting(setting), Level: ratio.Level(level), Assistants: assistants,
			Uncounted:  uncounted,
			Instructor: uncounted >= 0, LoweredTo: &lowered, MaxDepth: (*units.Depth)(&depth),
			Conditions: ratio.Conditions{(*units.Depth)(&measured), (*units.Speed)(&measured),
				(*units.Temperature)(&measured)},
		}
		for _, a := range ages {
			g.Ages = append(g.Ages, int(int8(a)))
		}
		l := ratio.Line{
			Settings: []ratio.Setting{g.Setting}, Levels: []ratio.Level{g.Level}, AgeFrom: per, AgeTo: limit,
			MinAge:       fewer,
			PerAssistant: per, Cap: limit, MaxDepth: units.Depth(measured),
			Young: &ratio.Mix{Below: limit, PerHead: per, OthersFrom: fewer},
			Conditions: []ratio.Condition{{Cause: ratio.Visibility, Beyond: units.Read(1, units.Unit(unit)),
				Fewer: fewer}, {Cause: ratio.Cause(unit)}},
		}
		for _, p := range places {
			l.Places = append(l.Places, int(int8(p)))
		}
		b := ratio.Book{ID: "nonsense", Lines: []ratio.Line{l, {Settings: l.Settings, Levels: l.Levels}}}
		_ = ratio.Validate(b)
		v := ratio.Judge([]ratio.Book{b}, g)
		require.GreaterOrEqual(t, v.Places, 0)
		require.Equal(t, len(g.Ages) > v.Places, v.Findings.Forbids())
	})
}

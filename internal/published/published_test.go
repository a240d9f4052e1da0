package published

import (
	"io/fs"
	"os"
	"slices"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

// everyFile reads each file of testdata/published by its reader, and returns how many rows it
// has. A new file is entered here and in the README.md beside it.
var everyFile = map[string]func(t testing.TB) int{
	"cylinders.csv":            func(t testing.TB) int { return len(Cylinders(t)) },
	"demanding_conditions.csv": func(t testing.TB) int { return len(DemandingConditions(t)) },
	"eos_air_constants.csv":    func(t testing.TB) int { return len(AirConstants(t)) },
	"eos_air_lemmon2000.csv":   func(t testing.TB) int { return len(AirTerms(t)) },
	"nist_sp811.csv":           func(t testing.TB) int { return len(Conversions(t)) },
	"noaa_oxygen_limits.csv":   func(t testing.TB) int { return len(OxygenLimits(t)) },
	"ratios.csv":               func(t testing.TB) int { return len(Ratios(t)) },
	"student_t_95.csv":         func(t testing.TB) int { return len(Student95(t)) },
	"unit_definitions.csv":     func(t testing.TB) int { return len(Definitions(t)) },
	"usn7/9-6-minutes.csv":     func(t testing.TB) int { return len(AltitudeWaits(t)) },
	"usn7/9-7-long.csv":        func(t testing.TB) int { return len(GroupTimes(t)) },
	"worked_examples.csv":      func(t testing.TB) int { return len(Examples(t)) },
	"z_air.csv":                func(t testing.TB) int { return len(AirZ(t)) },
}

// The rows are counted so that none is lost unseen.
var rowsOf = map[string]int{
	"cylinders.csv": 21, "demanding_conditions.csv": 3, "eos_air_constants.csv": 6,
	"eos_air_lemmon2000.csv": 19, "nist_sp811.csv": 5, "noaa_oxygen_limits.csv": 11,
	"ratios.csv": 11, "student_t_95.csv": 11,
	"unit_definitions.csv": 8, "usn7/9-6-minutes.csv": 16, "usn7/9-7-long.csv": 219,
	"worked_examples.csv": 32, "z_air.csv": 17 * 30,
}

func TestEveryFileIsReadAndDescribed(t *testing.T) {
	readme, err := os.ReadFile("../../testdata/published/README.md")
	require.NoError(t, err)
	found := 0
	require.NoError(t, fs.WalkDir(Files(t), ".", func(name string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		if d.IsDir() || name == "README.md" {
			return nil
		}
		found++
		require.Contains(t, everyFile, name, "a file that nothing reads")
		require.Equal(t, rowsOf[name], everyFile[name](t), name)
		require.Contains(t, string(readme), "`"+name+"`", "a file that the README.md does not describe")
		return nil
	}))
	require.Len(t, everyFile, found, "a reader without its file")
}

func TestNamesAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, e := range Examples(t) {
		require.False(t, seen[e.ID], e.ID)
		seen[e.ID] = true
		require.NotEmpty(t, e.Inputs, e.ID)
		require.NotEmpty(t, slices.Concat(keys(e.Printed), keys(e.Recomputed)), e.ID)
	}
	for _, c := range Cylinders(t) {
		require.False(t, seen[c.Name], c.Name)
		seen[c.Name] = true
	}
}

func keys(f Figures) (out []string) {
	for k := range f {
		out = append(out, k)
	}
	return out
}

func TestAMalformedRowIsAnError(t *testing.T) {
	one := func(r *record) []any {
		return []any{r.text("name"), r.maybeNumber("x"), r.whole("n"), r.oneOf("side", "a", "b"),
			r.wholes("all")}
	}
	for _, c := range []struct{ name, file, want string }{
		{"whole", "# source\nname,x,n,side,all\nfoot,0.3048,1,a,8 10 12\n", ""},
		{"nothing where there may be nothing", "name,x,n,side,all\nfoot,,1,a,8\n", ""},
		{"no name", "name,x,n,side,all\n,1,1,a,8\n", "line 2, column name: found nothing"},
		{"no number", "name,x,n,side,all\nfoot,1ft,1,a,8\n", `line 2, column x: found "1ft"`},
		{"not a finite number", "name,x,n,side,all\nfoot,NaN,1,a,8\n", `line 2, column x: found "NaN"`},
		{"a fraction", "name,x,n,side,all\nfoot,1,1.5,a,8\n", `line 2, column n: found "1.5"`},
		{"below nothing", "name,x,n,side,all\nfoot,1,-1,a,8\n", `line 2, column n: found "-1"`},
		{"no whole number where one must be", "name,x,n,side,all\nfoot,1,,a,8\n", `line 2, column n: found ""`},
		{"an unknown word", "name,x,n,side,all\nfoot,1,1,c,8\n", `line 2, column side: found "c"`},
		{"one of a list", "name,x,n,side,all\nfoot,1,1,a,8 x\n", `line 2, column all: found "x"`},
		{"the second row", "name,x,n,side,all\nfoot,1,1,a,8\nyard,,1,c,8\n", "line 3, column side"},
		{"a column short", "name,x,n,side,all\nfoot,1,1,a\n", "wrong number of fields"},
		{"another column", "name,y,n,side,all\nfoot,1,1,a,8\n", "found columns"},
		{"columns in another order", "x,name,n,side,all\n1,foot,1,a,8\n", "found columns"},
		{"no rows", "name,x,n,side,all\n", "has no rows"},
		{"an empty file", "", "EOF"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := read(fstest.MapFS{"f.csv": {Data: []byte(c.file)}}, "f.csv", "name,x,n,side,all", one)
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
			require.ErrorContains(t, err, "f.csv")
		})
	}
	_, err := read(fstest.MapFS{}, "f.csv", "name", one)
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestFiguresAreNumbersOrTexts(t *testing.T) {
	for _, text := range []string{
		"", "{", `{"a": true}`, `{"a": null}`, `{"a": {"b": 1}}`, `{"a": [[1, 2]]}`, "[1]",
	} {
		r := &record{head: []string{"inputs"}, cells: []string{text}}
		r.figures("inputs")
		require.Len(t, r.faults, 1, text)
	}
	r := &record{head: []string{"inputs"}, cells: []string{`{"bar": 200, "psi": [1, 2], "rule": "halves"}`}}
	require.Equal(t, Figures{"bar": {200}, "psi": {1, 2}}, r.figures("inputs"))
	require.Empty(t, r.faults)
}

func TestHalfOfTheLastDigit(t *testing.T) {
	for printed, want := range map[string]float64{
		"6.894757E+03": 0.0005, "5.08E-03": 0.000005, "12.5": 0.05, "3": 0.5, "3Ex": 0,
	} {
		require.InDelta(t, want, half(printed), want*1e-9, printed)
	}
}

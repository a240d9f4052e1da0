package nostop_test

import (
	"testing"

	"tankside/internal/nostop"
)

// BenchmarkJudge is a day of four dives of one person.
func BenchmarkJudge(b *testing.B) {
	day := []nostop.Dive{
		dive("pool", metres(3), 0, 60), dive("one", metres(12), 120, 30),
		dive("two", metres(17), 220, 25), dive("three", metres(12), 400, 5),
	}
	b.ReportAllocs()
	for b.Loop() {
		nostop.Judge(day, nostop.Settings{DivesADay: 4})
	}
}

// BenchmarkLookUp is one row, one residual nitrogen time and one group.
func BenchmarkLookUp(b *testing.B) {
	depth := metres(17).Depth()
	b.ReportAllocs()
	for b.Loop() {
		row, _ := nostop.RowAt(depth)
		res := nostop.ResidualNitrogen(nostop.E, row)
		if _, ok := res.Row.Group(res.Minutes + 25); !ok {
			b.Fatal("over the limit")
		}
	}
}

// BenchmarkWorked is the steps of one dive in words.
func BenchmarkWorked(b *testing.B) {
	r := judge(dive("a", metres(18), 0, 40)).Results[0]
	b.ReportAllocs()
	for b.Loop() {
		r.Worked()
	}
}

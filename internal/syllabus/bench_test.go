package syllabus_test

import (
	"testing"

	"tankside/internal/syllabus"
)

// The last skill of a course, with a whole course on record.
func BenchmarkMaySign(b *testing.B) {
	s := syllabus.BuiltIn()
	st := finished(s)
	voidIn(&st, "own-dive")
	c := sign(s, st, "own-dive", sunday)
	b.ReportAllocs()
	for b.Loop() {
		if len(syllabus.MaySign(c)) > 0 {
			b.Fatal("refused")
		}
	}
}

// A skill refused for everything that comes before it.
func BenchmarkMaySignRefused(b *testing.B) {
	s := syllabus.BuiltIn()
	c := sign(s, active(), "gas-receiving-open", sunday)
	b.ReportAllocs()
	for b.Loop() {
		if !syllabus.MaySign(c).Forbids() {
			b.Fatal("allowed")
		}
	}
}

func BenchmarkProgressOf(b *testing.B) {
	s := syllabus.BuiltIn()
	st := finished(s)
	b.ReportAllocs()
	for b.Loop() {
		syllabus.ProgressOf(s, st)
	}
}

func BenchmarkMayComplete(b *testing.B) {
	c := completing(syllabus.BuiltIn(), finished(syllabus.BuiltIn()))
	b.ReportAllocs()
	for b.Loop() {
		if len(syllabus.MayComplete(c)) > 0 {
			b.Fatal("refused")
		}
	}
}

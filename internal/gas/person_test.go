package gas

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/units"
)

// twelve is a large group with unlike cylinders, gauges and rates.
func twelve(t testing.TB) (Dive, []Diver, Settings) {
	s := DefaultSettings()
	s.Rule = Thirds
	var divers []Diver
	for i := range 12 {
		c, err := Sized(units.Volume(10+i%3), 232)
		require.NoError(t, err)
		start := units.Read(float64(200+i), units.UnitBar)
		if i%2 == 1 {
			start = units.Read(3000-10*float64(i), units.UnitPSI)
		}
		divers = append(divers, Diver{Name: fmt.Sprint("diver ", i), Cylinder: c, Start: start,
			Rate: units.Rate(14 + i), Mix: 0.32})
	}
	return Dive{Depth: 12, Planned: 5 * time.Minute, Water: units.Read(18, units.UnitCelsius)}, divers, s
}

func TestThePersonRuleAllocatesNothing(t *testing.T) {
	d, divers, s := twelve(t)
	divers[3].FilledAt = units.Read(35, units.UnitCelsius)
	var p PersonPlan
	require.Zero(t, testing.AllocsPerRun(100, func() {
		p = person(&d, divers, 3, &s)
		turn(&p, &divers[3], p.Out, &d, &s)
		expect(&p, &divers[3], d.Planned, &d, &s)
	}))
	require.Positive(t, float64(p.EndExact))
}

// A plan for 12 people is to take at most 50 µs on one core.
func BenchmarkPlanForTwelve(b *testing.B) {
	d, divers, s := twelve(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := PlanGroup(d, divers, s); err != nil {
			b.Fatal(err)
		}
	}
}

// The same where every person has findings, whose messages cost the most.
func BenchmarkPlanForTwelveWithFindings(b *testing.B) {
	d, divers, s := twelve(b)
	d.Planned, d.Depth, s.Rule = time.Hour, 25, AllUsable
	b.ReportAllocs()
	for b.Loop() {
		if p, err := PlanGroup(d, divers, s); err != nil || len(p.Findings) < 12 {
			b.Fatal(err, len(p.Findings))
		}
	}
}

func BenchmarkPerson(b *testing.B) {
	d, divers, s := twelve(b)
	b.ReportAllocs()
	for b.Loop() {
		p := person(&d, divers, 3, &s)
		turn(&p, &divers[3], p.Out, &d, &s)
		expect(&p, &divers[3], d.Planned, &d, &s)
	}
}

func BenchmarkCompressibility(b *testing.B) {
	for b.Loop() {
		Compressibility(200, 293.15)
	}
}

func BenchmarkConsumptionOfTwentyChecks(b *testing.B) {
	c, err := Sized(12, 232)
	require.NoError(b, err)
	var checks []Check
	for i := range 20 {
		checks = append(checks, Check{time.Duration(2*i) * time.Minute, 15,
			units.Read(220-8*float64(i), units.UnitBar)})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Consumption(c, checks, Physics{}); err != nil {
			b.Fatal(err)
		}
	}
}

package gas_test

import (
	"fmt"
	"time"

	"tankside/internal/gas"
	"tankside/internal/units"
)

func ExampleCylinder_Contents() {
	c, _ := gas.Rated(77.4*units.CubicFoot, 3000*units.PSI, gas.RealGas)
	for _, law := range []gas.GasLaw{gas.IdealGas, gas.RealGas} {
		v := c.Contents(200*units.Bar, gas.Physics{Law: law})
		fmt.Printf("%.1f L of cylinder, %v: %.0f L\n", float64(c.Water()), law, float64(v))
	}
	// Output:
	// 11.1 L of cylinder, ideal law: 2188 L
	// 11.1 L of cylinder, real gas: 2130 L
}

func ExampleCylinder_Pressure() {
	c, _ := gas.Sized(12, 232)
	fmt.Printf("600 L are %.1f bar\n", float64(c.Pressure(600, gas.Physics{Law: gas.IdealGas})))
	// Output: 600 L are 50.7 bar
}

func ExampleCylinder_Twin() {
	c, _ := gas.Sized(7, 232)
	fmt.Printf("%.0f L\n", float64(c.Twin().Water()))
	// Output: 14 L
}

func ExampleCylinder_AtTemperature() {
	c, _ := gas.Sized(12, 232)
	p := c.AtTemperature(200, units.Celsius(40), units.Celsius(10), gas.Physics{})
	fmt.Println("filled warm to 200 bar, in the water", gas.ReportedPressure(p, units.UnitBar))
	// Output: filled warm to 200 bar, in the water 170 bar
}

func ExampleCompressibility() {
	fmt.Printf("%.3f\n", gas.Compressibility(200*units.Bar, units.Celsius(20)))
	// Output: 1.026
}

func ExampleMaxDepth() {
	d := gas.MaxDepth(units.Percent(32), 1.4*units.Atmosphere, gas.NavySeaWater)
	fmt.Printf("%.0f ft\n", units.RoundDown(d.In(units.UnitFoot), 1))
	// Output: 111 ft
}

func ExampleEquivalentAirDepth() {
	d := gas.EquivalentAirDepth(units.Percent(36), 27*units.Metre, gas.SeaWater)
	fmt.Printf("%.0f m\n", units.RoundUp(float64(d), 1))
	// Output: 20 m
}

func ExampleOxygenExposure() {
	e, ok := gas.OxygenExposure(units.Percent(32), 30*units.Metre, 45*time.Minute, gas.SeaWater)
	fmt.Printf("%v: %.0f %% of one dive's limit, %.0f %% of the day's\n", ok, e.Single.Percent(),
		e.Daily.Percent())
	// Output: true: 25 % of one dive's limit, 21 % of the day's
}

func ExampleConsumption() {
	c, _ := gas.Sized(12, 232)
	check := func(min int, depth units.Depth, bar float64) gas.Check {
		return gas.Check{After: time.Duration(min) * time.Minute, Depth: depth,
			Reading: units.Read(bar, units.UnitBar)}
	}
	e, _ := gas.Consumption(c, []gas.Check{
		check(0, 5, 200), check(5, 12, 190), check(10, 14, 80), // 180 misread
		check(15, 14, 155), check(20, 12, 140), check(25, 10, 130),
	}, gas.Physics{})
	fmt.Printf("%.0f L/min, between %.0f and %.0f; left out: check %d\n", float64(e.Rate), float64(e.Low),
		float64(e.High), e.Misread[0]+1)
	// Output:
	// 14 L/min, between 13 and 16; left out: check 3
}

func ExampleLearn() {
	dive := func(rate units.Rate) gas.Estimate {
		return gas.Estimate{Rate: rate, Low: rate - 2,
			High: rate + 2}
	}
	fmt.Printf("novice: plan with %.1f L/min\n", float64(gas.Learn(nil).Planned))
	fmt.Printf("after three dives: %.1f L/min\n",
		float64(gas.Learn([]gas.Estimate{dive(19), dive(16), dive(15)}).Planned))
	// Output:
	// novice: plan with 25.0 L/min
	// after three dives: 20.0 L/min
}

func ExampleAscent_MinimumGas() {
	a := gas.DefaultSettings().Ascent
	v := a.MinimumGas(18*units.Metre, 2*20*units.LitrePerMinute, gas.SeaWater)
	fmt.Printf("two calm divers from 18 m: %.0f L\n", float64(v))
	v = a.MinimumGas(18*units.Metre, 1.5*2*20*units.LitrePerMinute, gas.SeaWater)
	fmt.Printf("the same two under stress: %.0f L\n", float64(v))
	// Output:
	// two calm divers from 18 m: 444 L
	// the same two under stress: 666 L
}

func ExampleLowGas() {
	c, _ := gas.Sized(11.1, 207)
	low := gas.LowGas(c, 444, 10*units.Bar, 50*units.Bar, gas.Physics{Law: gas.IdealGas})
	fmt.Println(gas.CallPressure(low, units.UnitBar), "or", gas.CallPressure(low, units.UnitPSI))
	// Output: 55 bar or 800 psi
}

func ExampleTurnPressure() {
	c, _ := gas.Sized(12, 232)
	ph := gas.Physics{Law: gas.IdealGas}
	usable := gas.Usable(c, 220, 70, ph)
	for _, rule := range []gas.TurnRule{gas.AllUsable, gas.Halves, gas.Thirds} {
		fmt.Println(rule, gas.CallPressure(gas.TurnPressure(c, 220, 70, gas.Share(usable, rule), ph),
			units.UnitBar))
	}
	// Output:
	// all usable 70 bar
	// halves 145 bar
	// thirds 170 bar
}

func ExampleGasTime() {
	t := gas.GasTime(1665, 25, 15*units.Metre, gas.RoundBar)
	fmt.Printf("%.2f min\n", t.Minutes())
	// Output: 26.64 min
}

func ExampleNeed() {
	fmt.Printf("%.0f L\n", float64(gas.Need(20, 18*units.Metre, 30*time.Minute, gas.RoundBar)))
	// Output: 1680 L
}

func pair() (gas.Dive, []gas.Diver) {
	c, _ := gas.Rated(77.4*units.CubicFoot, 3000*units.PSI, gas.RealGas)
	return gas.Dive{Depth: 18 * units.Metre, Planned: 20 * time.Minute}, []gas.Diver{
		{Name: "Mara", Cylinder: c, Start: units.Read(200, units.UnitBar), Rate: 15},
		{Name: "Teo", Cylinder: c, Start: units.Read(2900, units.UnitPSI)}, // a novice
	}
}

func ExamplePlanGroup() {
	d, divers := pair()
	p, err := gas.PlanGroup(d, divers, gas.DefaultSettings())
	if err != nil {
		fmt.Println(err)
	}
	for i, w := range p.People {
		fmt.Printf("%s: low on gas at %v, turn at %v, back with %v, gas for %v\n", divers[i].Name, w.Low,
			w.Turn, w.End, w.GasTime)
	}
	fmt.Println("start the ascent after", p.LatestAscent, "at the latest, because of", divers[p.Limiting].Name)
	for _, f := range p.Findings {
		fmt.Println(f.Severity, f.Message)
	}
	// Output:
	// Mara: low on gas at 75 bar, turn at 75 bar, back with 100 bar, gas for 32m0s
	// Teo: low on gas at 1100 psi, turn at 1100 psi, back with 700 psi, gas for 19m0s
	// start the ascent after 19m0s at the latest, because of Teo
	// caution The gas of Teo lasts 19 min; planned are 20 min.
}

func ExamplePlan_Worked() {
	d, divers := pair()
	p, _ := gas.PlanGroup(d, divers, gas.DefaultSettings())
	for _, system := range []units.Unit{units.UnitBar, units.UnitPSI} {
		for _, s := range p.Worked(0, system) {
			fmt.Printf("%s: %s\n", s.Title, s.Text)
		}
		fmt.Println()
	}
	// Output:
	// Pressure at the deepest point: 18.0 m ÷ 10.0 m + 1 = 2.80 times the surface pressure.
	// Two people, stressed, on one cylinder: Mara breathes 15.0 L/min and Teo 25.0 L/min; under stress 1.50 times that: 1.50 × (15.0 L/min + 25.0 L/min) = 60.0 L/min together.
	// Sorting out: 1.00 min at 18.0 m: 1.00 × 60.0 L/min × 2.80 = 168 L.
	// Up to the stop: 13.0 m ÷ 9 m/min = 1.44 min at 11.5 m on average: 1.44 × 60.0 L/min × 2.15 = 186 L.
	// At the stop: 3.00 min at 5.0 m: 3.00 × 60.0 L/min × 1.50 = 270 L.
	// Up to the surface: 5.0 m ÷ 9 m/min = 0.56 min at 2.5 m on average: 0.56 × 60.0 L/min × 1.25 = 42 L.
	// Ascent gas: All legs together: 666 L.
	// The same in this cylinder: 666 L ÷ 11.1 L of cylinder × 1.013 bar = 60.9 bar by the ideal law; air at that pressure and 20 °C has Z = 0.987: 60.1 bar.
	// Low-gas pressure: 60.1 bar + 10.0 bar of reserve = 70.1 bar; rounded up: 75 bar.
	// Usable gas: 200.0 bar hold 2130 L, 70.1 bar hold 777 L: usable 1353 L.
	// Gas time: 1353 L ÷ (15.0 L/min × 2.80 at 18.0 m) = 32.22 min; rounded down: 32 min.
	// Turn pressure: All usable gas may be used: turn at the low-gas pressure, 75 bar.
	// Expected end: 19 min until the ascent: 798 L; a normal ascent alone: 124 L. Left: 109.3 bar; rounded down: 100 bar.
	// Mind: A plan is advice, not a promise. Local law, the training organisation and the instructor in charge come first; look at the gauge, and go up when it says so.
	//
	// Pressure at the deepest point: 59.1 ft ÷ 32.8 ft + 1 = 2.80 times the surface pressure.
	// Two people, stressed, on one cylinder: Mara breathes 0.53 cu ft/min and Teo 0.88 cu ft/min; under stress 1.50 times that: 1.50 × (0.53 cu ft/min + 0.88 cu ft/min) = 2.12 cu ft/min together.
	// Sorting out: 1.00 min at 59.1 ft: 1.00 × 2.12 cu ft/min × 2.80 = 5.93 cu ft.
	// Up to the stop: 42.7 ft ÷ 30 ft/min = 1.44 min at 37.7 ft on average: 1.44 × 2.12 cu ft/min × 2.15 = 6.58 cu ft.
	// At the stop: 3.00 min at 16.4 ft: 3.00 × 2.12 cu ft/min × 1.50 = 9.53 cu ft.
	// Up to the surface: 16.4 ft ÷ 30 ft/min = 0.56 min at 8.2 ft on average: 0.56 × 2.12 cu ft/min × 1.25 = 1.47 cu ft.
	// Ascent gas: All legs together: 23.52 cu ft.
	// The same in this cylinder: 23.52 cu ft ÷ 0.391 cu ft of cylinder × 14.7 psi = 883 psi by the ideal law; air at that pressure and 68 °F has Z = 0.987: 871 psi.
	// Low-gas pressure: 871 psi + 145 psi of reserve = 1017 psi; rounded up: 1100 psi.
	// Usable gas: 2901 psi hold 75.23 cu ft, 1017 psi hold 27.44 cu ft: usable 47.78 cu ft.
	// Gas time: 47.78 cu ft ÷ (0.53 cu ft/min × 2.80 at 59.1 ft) = 32.22 min; rounded down: 32 min.
	// Turn pressure: All usable gas may be used: turn at the low-gas pressure, 1100 psi.
	// Expected end: 19 min until the ascent: 28.18 cu ft; a normal ascent alone: 4.40 cu ft. Left: 1585 psi; rounded down: 1500 psi.
	// Mind: A plan is advice, not a promise. Local law, the training organisation and the instructor in charge come first; look at the gauge, and go up when it says so.
}

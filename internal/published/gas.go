package published

import (
	"encoding/json"
	"fmt"
	"testing"
)

// Example is a worked example of gas planning as somebody printed it.
type Example struct {
	ID, Kind   string
	Inputs     Figures // what the page starts from
	Printed    Figures // what the page comes to
	Recomputed Figures // the same, worked out from the inputs with more digits
	Source     string
	Seen       string // how far the page was seen
	Quality    string // "A manual", "B ..." a textbook or course, "C ..." a web page
	Note       string
}

// Figures are the figures of an example by name. The name has the unit; a single figure is a
// list of one.
type Figures map[string][]float64

// UnmarshalJSON reads an object of numbers and lists of numbers. A text is left out: it is a
// rule or a mark for the reader.
func (f *Figures) UnmarshalJSON(text []byte) error {
	var all map[string]any
	if err := json.Unmarshal(text, &all); err != nil {
		return err
	}
	*f = Figures{}
	for name, value := range all {
		list, many := value.([]any)
		if !many {
			list = []any{value}
		}
		for _, x := range list {
			switch x := x.(type) {
			case float64:
				(*f)[name] = append((*f)[name], x)
			case string:
			default:
				return fmt.Errorf("%s: found %v, must be a number, numbers or a text", name, x)
			}
		}
	}
	return nil
}

// Examples returns the worked examples.
func Examples(t testing.TB) []Example {
	t.Helper()
	return rows(t, "worked_examples.csv", "id,kind,inputs,printed,recomputed,source,seen,quality,note",
		func(r *record) Example {
			return Example{
				ID: r.text("id"), Kind: r.text("kind"), Source: r.text("source"), Seen: r.text("seen"),
				Quality: r.text("quality"), Note: r.maybe("note"),
				Inputs: r.figures("inputs"), Printed: r.figures("printed"), Recomputed: r.figures("recomputed"),
			}
		})
}

// ExampleOf returns the worked example of an id, and fails the test where there is none.
func ExampleOf(t testing.TB, id string) Example {
	t.Helper()
	for _, e := range Examples(t) {
		if e.ID == id {
			return e
		}
	}
	t.Fatalf("published: no worked example %q", id)
	return Example{}
}

func (r *record) figures(column string) Figures {
	var f Figures
	if err := json.Unmarshal([]byte(r.maybe(column)), &f); err != nil {
		r.fault(column, "%w", err)
	}
	return f
}

// Cylinder is a size of cylinder as a catalogue or a textbook prints it. What the source does
// not print is 0.
type Cylinder struct {
	Name        string
	WaterL      float64 // the water volume
	WaterFt3    float64
	RatedPSI    float64
	RatedBar    float64
	CapacityFt3 float64
	CapacityBy  string // the law by which the capacity was stated: "ideal", "real", "" if not known
	Source      string
}

// Cylinders returns the sizes of cylinders.
func Cylinders(t testing.TB) []Cylinder {
	t.Helper()
	const columns = "name,water_volume_l,water_volume_ft3,rated_psi,rated_bar,capacity_ft3,capacity_by,source"
	return rows(t, "cylinders.csv", columns, func(r *record) Cylinder {
		return Cylinder{
			Name: r.text("name"), Source: r.text("source"),
			WaterL: r.number("water_volume_l"), WaterFt3: r.maybeNumber("water_volume_ft3"),
			RatedPSI: r.maybeNumber("rated_psi"), RatedBar: r.maybeNumber("rated_bar"),
			CapacityFt3: r.maybeNumber("capacity_ft3"), CapacityBy: r.oneOf("capacity_by", "", "ideal", "real"),
		}
	})
}

// OxygenLimit is how long oxygen may be breathed at a partial pressure.
type OxygenLimit struct {
	PPO2Atm       float64 // standard atmospheres
	SingleMinutes int     // in one exposure
	DailyMinutes  int     // in 24 hours
	Seen          string  // how far the row was seen
}

// OxygenLimits returns the oxygen limits, by rising partial pressure.
func OxygenLimits(t testing.TB) []OxygenLimit {
	t.Helper()
	return rows(t, "noaa_oxygen_limits.csv", "ppo2_atm,single_exposure_min,daily_total_min,seen",
		func(r *record) OxygenLimit {
			return OxygenLimit{PPO2Atm: r.number("ppo2_atm"), SingleMinutes: r.whole("single_exposure_min"),
				DailyMinutes: r.whole("daily_total_min"), Seen: r.text("seen")}
		})
}

// AirTerm is one term N δ^I τ^J exp(-δ^L) of the equation of state for air; the last factor
// only where L is above 0.
type AirTerm struct{ N, I, J, L float64 }

// AirTerms returns the terms of the equation of state for air.
func AirTerms(t testing.TB) []AirTerm {
	t.Helper()
	return rows(t, "eos_air_lemmon2000.csv", "k,n,i,j,l", func(r *record) AirTerm {
		r.whole("k")
		return AirTerm{N: r.number("n"), I: r.number("i"), J: r.number("j"), L: r.number("l")}
	})
}

// AirConstants returns the constants of the equation of state for air by name, and the state
// that is printed for checking it.
func AirConstants(t testing.TB) map[string]float64 {
	t.Helper()
	return named(t, "eos_air_constants.csv", "name,value,unit", "name", "unit")
}

// Z is the compressibility factor of air at a temperature and an absolute pressure.
type Z struct{ Kelvin, BarAbs, Z float64 }

// AirZ returns the compressibility factors of air.
func AirZ(t testing.TB) []Z {
	t.Helper()
	return rows(t, "z_air.csv", "temperature_k,pressure_bar_abs,z", func(r *record) Z {
		return Z{Kelvin: r.number("temperature_k"), BarAbs: r.number("pressure_bar_abs"), Z: r.number("z")}
	})
}

package published

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"testing"
)

// GroupTime is the range of bottom times that end in a repetitive group (US Navy Diving
// Manual, Table 9-7).
type GroupTime struct {
	FSW         int    // the depth of the row, in feet of sea water
	Group       string // "A" to "Z"
	Shortest    int    // minutes
	Longest     int    // minutes; 0 where Unending
	Unending    bool   // the group is never left, however long the dive
	NoStopLimit bool   // Longest is the no-stop limit of the row
}

// GroupTimes returns Table 9-7, by depth and time.
func GroupTimes(t testing.TB) []GroupTime {
	t.Helper()
	const columns = "depth_fsw,group,min_bottom_time_min,max_bottom_time_min,is_no_stop_limit"
	return rows(t, "usn7/9-7-long.csv", columns, func(r *record) GroupTime {
		g := GroupTime{
			FSW: r.whole("depth_fsw"), Group: r.text("group"), Shortest: r.whole("min_bottom_time_min"),
			Unending:    r.maybe("max_bottom_time_min") == "",
			NoStopLimit: r.oneOf("is_no_stop_limit", "0", "1") == "1",
		}
		if !g.Unending {
			g.Longest = r.whole("max_bottom_time_min")
		}
		return g
	})
}

// AltitudeWait is how long a diver of a repetitive group waits before going to altitude (US
// Navy Diving Manual, Table 9-6).
type AltitudeWait struct {
	Group   string
	Minutes [10]int // by thousands of feet: [0] is 1000 ft
}

// AltitudeWaits returns Table 9-6, by group.
func AltitudeWaits(t testing.TB) []AltitudeWait {
	t.Helper()
	thousands := [10]string{"ft_1000", "ft_2000", "ft_3000", "ft_4000", "ft_5000", "ft_6000", "ft_7000",
		"ft_8000", "ft_9000", "ft_10000"}
	const columns = "group,ft_1000,ft_2000,ft_3000,ft_4000,ft_5000,ft_6000,ft_7000,ft_8000,ft_9000,ft_10000"
	return rows(t, "usn7/9-6-minutes.csv", columns, func(r *record) AltitudeWait {
		w := AltitudeWait{Group: r.text("group")}
		for i, column := range thousands {
			w.Minutes[i] = r.whole(column)
		}
		return w
	})
}

// Ratio is how many students one instructor may have.
type Ratio struct {
	Book    string  // the id of the built-in rule book that states it
	Setting string  // "open" or "confined"
	Level   string  // of the training
	Age     int     // of every student, in years
	Places  []int   // students, with 0, 1, 2 … assistants
	DepthM  float64 // the depth that the figure holds to, in metres; 0 where the source names none
	Source  string
}

// Ratios returns the ratios.
func Ratios(t testing.TB) []Ratio {
	t.Helper()
	return rows(t, "ratios.csv", "book,setting,level,age,places,max_depth_m,source", func(r *record) Ratio {
		return Ratio{
			Book: r.text("book"), Setting: r.oneOf("setting", "open", "confined"), Level: r.text("level"),
			Age: r.whole("age"), Places: r.wholes("places"), DepthM: r.maybeNumber("max_depth_m"),
			Source: r.text("source"),
		}
	})
}

// Condition is a bound beyond which conditions are demanding.
type Condition struct {
	Cause string  // "visibility", "current" or "temperature"
	Below bool    // demanding below the bound; otherwise above it
	Bound float64 // in metres, metres a second or degrees Celsius
}

// DemandingConditions returns the bounds by cause.
func DemandingConditions(t testing.TB) map[string]Condition {
	t.Helper()
	units := map[string]string{"visibility": "m", "current": "m/s", "temperature": "degC"}
	out := map[string]Condition{}
	for _, c := range rows(t, "demanding_conditions.csv", "cause,beyond,value,unit", func(r *record) Condition {
		cause := r.oneOf("cause", "visibility", "current", "temperature")
		r.oneOf("unit", units[cause])
		return Condition{Cause: cause, Below: r.oneOf("beyond", "below", "above") == "below",
			Bound: r.number("value")}
	}) {
		out[c.Cause] = c
	}
	return out
}

// Student95 returns the two-sided 95 % points of Student's t distribution by degrees of
// freedom.
func Student95(t testing.TB) map[int]float64 {
	t.Helper()
	type point struct {
		free int
		t    float64
	}
	out := map[int]float64{}
	for _, p := range rows(t, "student_t_95.csv", "degrees_of_freedom,t", func(r *record) point {
		return point{r.whole("degrees_of_freedom"), r.number("t")}
	}) {
		out[p.free] = p.t
	}
	return out
}

// Definitions returns, for units that are defined by another, the number of that other: of
// metres in a "ft", of pascals in an "atm".
func Definitions(t testing.TB) map[string]float64 {
	t.Helper()
	return named(t, "unit_definitions.csv", "unit,value,of", "unit", "of")
}

// Conversion is a factor between two units as printed.
type Conversion struct {
	From, To string
	Factor   float64
	Half     float64 // half a unit of the last printed digit of Factor
}

// Conversions returns the conversion factors by the unit that they convert from.
func Conversions(t testing.TB) map[string]Conversion {
	t.Helper()
	out := map[string]Conversion{}
	for _, c := range rows(t, "nist_sp811.csv", "from,to,factor", func(r *record) Conversion {
		factor := r.number("factor")
		return Conversion{From: r.text("from"), To: r.text("to"), Factor: factor, Half: half(r.maybe("factor"))}
	}) {
		out[c.From] = c
	}
	return out
}

// half returns half a unit of the last digit of a number as printed: of 6.894757E+03 half of
// 0.001. It returns 0 where that is no number.
func half(printed string) float64 {
	digits, power, _ := strings.Cut(printed, "E")
	_, decimals, _ := strings.Cut(digits, ".")
	exponent, err := strconv.Atoi(cmp.Or(power, "0"))
	if err != nil {
		return 0
	}
	return 0.5 * math.Pow10(exponent-len(decimals))
}

// named returns the numbers of a file of name, value and unit, by name.
func named(t testing.TB, file, columns, name, unit string) map[string]float64 {
	t.Helper()
	type constant struct {
		name  string
		value float64
	}
	out := map[string]float64{}
	for _, c := range rows(t, file, columns, func(r *record) constant {
		r.text(unit)
		return constant{r.text(name), r.number("value")}
	}) {
		out[c.name] = c.value
	}
	return out
}

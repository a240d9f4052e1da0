package nostop

import (
	"fmt"

	"tankside/internal/finding"
)

// cures returns what would bring a dive that is too long within its limit: less time, less depth or
// a longer interval, each sufficient alone.
func (w *sequence) cures(r *Result) []finding.Cure {
	var out []finding.Cure
	if r.Left.At > 0 {
		out = append(out, finding.Cure{Code: "shorten_dive",
			Message: fmt.Sprintf("Be back at the surface after %s.", r.Left)})
	}
	if row, ok := shallower(r); ok {
		out = append(out, finding.Cure{Code: "stay_shallower",
			Message: fmt.Sprintf("Stay at %s (%d ft) or above.", row.Depth.metres(), int(row.Depth))})
	}
	if wait, ok := w.longer(r); ok {
		out = append(out, finding.Cure{Code: "wait_longer",
			Message: fmt.Sprintf("Stay at the surface for %s (h:mm) before this dive.", wait.Clock())})
	}
	return out
}

// shallower returns the deepest row above the dive's own that allows it. A joined dive keeps the
// depth of the dive before it, which is done.
func shallower(r *Result) (Row, bool) {
	if r.Joined {
		return Row{}, false
	}
	for i := len(tables.rows) - 1; i >= 0; i-- {
		row := tables.rows[i]
		res := ResidualNitrogen(r.Before, row)
		if row.Depth < r.Row.Depth && res.Row.Limit.Allows(r.Under+res.Minutes) {
			return row, true
		}
	}
	return Row{}, false
}

// longer returns the shortest surface interval that would allow the dive.
func (w *sequence) longer(r *Result) (Minutes, bool) {
	if r.First || w.last.Outside {
		return 0, false
	}
	own, ok := RowAt(r.Dive.Depth.Depth())
	for g := w.last.After; ok && g >= None; g-- {
		res := ResidualNitrogen(g, own)
		if res.Row.Limit.Allows(r.Own + res.Minutes) {
			return max(least, IntervalTo(w.last.After, g)), true
		}
	}
	return 0, false
}

package nostop

import (
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Dive is one dive of a person, planned or done. A dive in confined water is a dive too.
type Dive struct {
	Key     string        // the caller's name of the dive, and the subject of its findings
	Depth   units.Reading // the greatest depth
	In, Out time.Time     // leaving and reaching the surface, in the place's zone
	Ascents int           // the ascents during the dive; 0 is taken as 1
	// Altitude of the site in metres or feet. Zero is at the sea.
	Altitude units.Reading
	Done     bool // done; false: planned
}

// Settings are the numbers that a centre may choose. Zero or less is the default, which is our
// choice.
type Settings struct {
	Margin     Minutes // the time to end before the limit; 5 min
	DivesADay  int     // dives in a day without a caution; 3
	AscentsDay int     // ascents in a day without a caution; 6
	ByTheFoot  bool    // use Table 2A-1 at 30 to 50 fsw where there is no residual nitrogen
}

// orDefault returns the settings with defaults for those not set. Three dives a day is one manual's
// figure for students; the others are our choice.
func (s Settings) orDefault() Settings {
	if s.Margin <= 0 {
		s.Margin = 5
	}
	if s.DivesADay <= 0 {
		s.DivesADay = 3
	}
	if s.AscentsDay <= 0 {
		s.AscentsDay = 6
	}
	return s
}

// Result is what the tables have for one dive in its place in the sequence.
type Result struct {
	Dive     Dive
	OfDay    int           // the first dive of its calendar day is 1
	Ascents  int           // ascents of that day up to the end of this dive
	First    bool          // no dive before it; Surface has no meaning then
	Surface  Minutes       // surface interval before it
	Joined   bool          // counted as one dive with the one before it
	Depth    units.Reading // the depth looked up: the greatest of the joined dives
	Row      Row           // the row used; zero where the dive is outside the tables
	ByFoot   bool          // the row is of Table 2A-1
	Own      Minutes       // time under water of this dive
	Under    Minutes       // Own with the dives joined to it
	Before   Group         // group at the start (of the first of the joined dives)
	Residual Residual      // residual nitrogen at the start
	Total    Minutes       // Under with the residual nitrogen time
	Left     Limit         // the longest that this dive may last
	After    Group         // group at the end
	Outside  bool          // outside the tables: After is not known, and is set to Z
	Findings finding.List
}

// Plan is a person's sequence of dives, with the tables' result for each.
type Plan struct {
	Results  []Result
	Settings Settings // with defaults filled in
}

// Findings returns the findings of all dives.
func (p Plan) Findings() finding.List {
	var all finding.List
	for _, r := range p.Results {
		all = append(all, r.Findings...)
	}
	return all
}

// Latest returns the planned dives, each replaced by the dive done with the same key, and the dives
// done without a plan.
func Latest(planned, done []Dive) []Dive {
	out := slices.Clone(done)
	for i := range out {
		out[i].Done = true
	}
	for _, p := range planned {
		same := func(d Dive) bool { return d.Key != "" && d.Key == p.Key }
		if !slices.ContainsFunc(done, same) {
			out = append(out, p)
		}
	}
	return out
}

// Judge judges a person's dives in the order of their times in, in whatever order they come. The
// sequence should have every dive of the last 48 hours, confined water too: without yesterday's
// dives a day would start without residual nitrogen.
func Judge(dives []Dive, set Settings) Plan {
	sorted := slices.Clone(dives)
	slices.SortStableFunc(sorted, func(a, b Dive) int { return a.In.Compare(b.In) })
	w := sequence{set: set.orDefault()}
	p := Plan{Results: make([]Result, 0, len(sorted)), Settings: w.set}
	for _, d := range sorted {
		p.Results = append(p.Results, w.dive(d))
	}
	return p
}

// sequence is the state that goes from one dive to the next.
type sequence struct {
	set     Settings
	any     bool
	last    Result
	out     time.Time // the latest time out so far
	outside time.Time // end of the latest dive outside the tables
	lost    bool      // there was one
}

// dive judges one dive and remembers it.
func (w *sequence) dive(d Dive) Result {
	r := Result{Dive: d, First: !w.any, Depth: d.Depth, OfDay: 1, Ascents: max(1, d.Ascents)}
	possible := d.possible()
	if possible {
		r.Own = minutesUp(d.Out.Sub(d.In))
	}
	r.Under = r.Own
	w.count(&r)
	w.enter(&r)
	switch {
	case !possible:
		r.forbid(RuleNotADive, d.whyImpossible())
	case w.outsideTables(&r):
	default:
		w.lookUp(&r)
	}
	w.judge(&r)
	w.remember(&r)
	return r
}

// count sets the numbers of the dive and of its ascents within its calendar day, which is the day
// in the zone of its time in.
func (w *sequence) count(r *Result) {
	if !w.any {
		return
	}
	y, m, d := r.Dive.In.Date()
	if ly, lm, ld := w.last.Dive.In.Date(); y == ly && m == lm && d == ld {
		r.OfDay = w.last.OfDay + 1
		r.Ascents += w.last.Ascents
	}
}

// enter sets the surface interval and the group at the start. It joins the dive to the one before
// where the interval is less than ten minutes.
func (w *sequence) enter(r *Result) {
	if !w.any {
		return
	}
	r.Surface = minutesDown(r.Dive.In.Sub(w.out))
	if r.Surface >= least {
		r.Before = AfterInterval(w.last.After, r.Surface)
		return
	}
	r.Joined, r.Before, r.Outside = true, w.last.Before, w.last.Outside
	r.Under += w.last.Under
	if w.last.Depth.Unit.Dimension() == units.Depths &&
		(!r.Dive.possible() || w.last.Depth.Compare(r.Depth) > 0) {
		r.Depth = w.last.Depth
	}
}

// lookUp sets row, residual nitrogen, limit and group. A dive that is too long is outside the
// tables from then on.
func (w *sequence) lookUp(r *Result) {
	r.Row, _ = RowAt(r.Depth.Depth())
	r.Residual = ResidualNitrogen(r.Before, r.Row)
	r.Row = r.Residual.Row
	if foot, ok := ShallowRowAt(r.Depth.Depth()); ok && w.set.ByTheFoot && r.Before == None {
		r.Row, r.ByFoot = foot, true
	}
	r.Total = r.Under + r.Residual.Minutes
	r.Left = r.Row.Limit.Less(r.Total - r.Own)
	after, ok := r.Row.Group(r.Total)
	switch {
	case !ok:
		r.Outside = true
	case r.Residual.Undefined:
		r.After = r.Before
	default:
		r.After = after
	}
}

// remember keeps the dive for the next one. After a dive outside the tables the group is taken as
// the highest.
func (w *sequence) remember(r *Result) {
	if r.Outside {
		r.After = Z
		w.lost, w.outside = true, later(r.Dive.Out, later(r.Dive.In, w.outside))
	}
	w.out = later(w.out, later(r.Dive.In, r.Dive.Out))
	w.any, w.last = true, *r
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

package cli

import (
	"time"

	"tankside/internal/nostop"
	"tankside/internal/units"
)

// The answers of "tankside nostop --json". Nothing is left out: what does not
// apply is null. Times are those of the place, without an offset.
type (
	nostopDay struct {
		RuleBook string       `json:"rule_book"`
		Dives    []nostopDive `json:"dives"`
		Flying   nostopFlying `json:"flying"`
		Advice   string       `json:"advice"`
	}
	nostopDive struct {
		Key                string       `json:"key"`
		State              string       `json:"state"` // planned or done
		In                 string       `json:"in"`
		Out                string       `json:"out"`
		Depth              quantity     `json:"depth"`
		OfDay              int          `json:"of_day"`
		AscentsOfDay       int          `json:"ascents_of_day"`
		SurfaceIntervalMin *int         `json:"surface_interval_min"` // null before the first dive
		OneDiveWithBefore  bool         `json:"one_dive_with_before"`
		GroupBefore        *string      `json:"group_before"` // null: none
		RowFSW             *int         `json:"row_fsw"`      // null: outside the tables
		UnderWaterMin      int          `json:"under_water_min"`
		ResidualMin        *int         `json:"residual_nitrogen_min"` // null where the table has no figure
		TotalMin           int          `json:"total_min"`
		LimitMin           *int         `json:"limit_min"`   // null: unlimited, or outside the tables
		LongestMin         *int         `json:"longest_min"` // of this dive; null as limit_min
		GroupAfter         *string      `json:"group_after"` // null: not known
		OutsideTables      bool         `json:"outside_tables"`
		Findings           []findingOut `json:"findings"`
		Worked             []stepOut    `json:"worked"` // null unless asked for
	}
	nostopFlying struct {
		Cabin       quantity     `json:"cabin"`
		From        *string      `json:"from"`
		Highest     *string      `json:"highest_group"`
		TableMin    int          `json:"table_min"`
		WorkshopMin int          `json:"workshop_min"`
		Earliest    *string      `json:"earliest"` // null: the altitude is outside the table
		Findings    []findingOut `json:"findings"`
		Worked      []stepOut    `json:"worked"`
	}
	nostopRow struct {
		RuleBook    string         `json:"rule_book"`
		Depth       quantity       `json:"depth"`
		RowFSW      int            `json:"row_fsw"`
		LimitMin    *int           `json:"limit_min"` // null: unlimited
		Group       *string        `json:"group"`
		ResidualMin *int           `json:"residual_nitrogen_min"`
		LongestMin  *int           `json:"longest_min"`
		Groups      []nostopLetter `json:"groups"`
		Advice      string         `json:"advice"`
	}
	nostopLetter struct {
		Group string `json:"group"`
		ToMin *int   `json:"to_min"` // null: however long
	}
	stepOut struct {
		Title  string `json:"title"`
		Text   string `json:"text"`
		Source string `json:"source"`
	}
)

const clockForm = "2006-01-02T15:04"

func nostopAnswer(p nostop.Plan, w nostop.Wait, explain bool) nostopDay {
	day := nostopDay{RuleBook: nostop.Source, Advice: nostop.Advice, Dives: make([]nostopDive, 0, len(p.Results))}
	for _, r := range p.Results {
		day.Dives = append(day.Dives, diveAnswer(r, explain))
	}
	day.Flying = nostopFlying{Cabin: quantityOut(w.Altitude), From: clockOut(w.From), Highest: groupOut(w.Highest),
		TableMin: int(w.Table), WorkshopMin: int(w.Workshop), Earliest: clockOut(w.Earliest), Findings: findingsOut(w.Findings)}
	if explain {
		day.Flying.Worked = stepsOut(w.Worked())
	}
	return day
}

func diveAnswer(r nostop.Result, explain bool) nostopDive {
	d := nostopDive{
		Key: r.Dive.Key, State: "planned", Depth: quantityOut(r.Dive.Depth),
		In: r.Dive.In.Format(clockForm), Out: r.Dive.Out.Format(clockForm),
		OfDay: r.OfDay, AscentsOfDay: r.Ascents, OneDiveWithBefore: r.Joined, GroupBefore: groupOut(r.Before),
		UnderWaterMin: int(r.Own), TotalMin: int(r.Total), OutsideTables: r.Outside, Findings: findingsOut(r.Findings),
	}
	if r.Dive.Done {
		d.State = "done"
	}
	if !r.First {
		d.SurfaceIntervalMin = number(r.Surface)
	}
	if !r.Residual.Undefined {
		d.ResidualMin = number(r.Residual.Minutes)
	}
	if r.Row.Depth > 0 {
		d.RowFSW = number(nostop.Minutes(r.Row.Depth))
		d.LimitMin, d.LongestMin = limitOut(r.Row.Limit), limitOut(r.Left)
	}
	if !r.Outside {
		d.GroupAfter = groupOut(r.After)
	}
	if explain {
		d.Worked = stepsOut(r.Worked())
	}
	return d
}

func lookUpAnswer(depth units.Reading, g nostop.Group, res nostop.Residual) nostopRow {
	out := nostopRow{RuleBook: nostop.Source, Advice: nostop.Advice, Depth: quantityOut(depth), RowFSW: int(res.Row.Depth),
		LimitMin: limitOut(res.Row.Limit), Group: groupOut(g), LongestMin: limitOut(res.Row.Limit.Less(res.Minutes))}
	if !res.Undefined {
		out.ResidualMin = number(res.Minutes)
	}
	for g := nostop.A; g <= nostop.Z; g++ {
		if res.Row.Has(g) {
			out.Groups = append(out.Groups, nostopLetter{g.String(), limitOut(res.Row.Longest(g))})
		}
	}
	return out
}

func number(m nostop.Minutes) *int { n := int(m); return &n }

func limitOut(l nostop.Limit) *int {
	if l.Unlimited {
		return nil
	}
	return number(l.At)
}

func groupOut(g nostop.Group) *string {
	if g == nostop.None {
		return nil
	}
	s := g.String()
	return &s
}

func clockOut(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.Format(clockForm)
	return &s
}

func stepsOut(steps []nostop.Step) []stepOut {
	out := make([]stepOut, 0, len(steps))
	for _, s := range steps {
		out = append(out, stepOut(s))
	}
	return out
}

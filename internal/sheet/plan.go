package sheet

import (
	_ "embed"
	"fmt"
	"io"
	"slices"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/units"
)

// Plan is the content of a gas plan's sheet.
type Plan struct {
	Of       string // the dive: "Cove 2, training dive 3, group blue"; "": a dive to its depth
	State    string // whether the group may dive by it, in words
	Settled  bool   // whether the group may dive by it
	Facts    []Fact // of place and people, before those of the dive
	Accepted []Fact // the accepted cautions: each with who accepted it and why
	Foot     string // when it was made
	Input    gasplan.Input
	Result   gasplan.Result
}

//go:embed plan.gohtml
var planText string

var planBody = Body(planText)

// HTML writes the plan as a page.
func (p Plan) HTML(w io.Writer) error {
	c := p.content()
	return HTML(w, p.head(), planBody, c)
}

// Text writes the plan as plain text.
func (p Plan) Text(w io.Writer) error {
	c, t := p.content(), NewText(p.head())
	t.Section("Who has what")
	t.Table(c.rows(false))
	fmt.Fprintln(&t.b)
	t.Table(c.rows(true))
	if len(c.Findings) > 0 {
		t.Section("What the rules say")
		t.Findings(c.Findings)
	}
	for _, a := range c.Accepted {
		t.Item(a.Label + ": " + a.Value)
	}
	t.Section("Taken for granted")
	for _, a := range c.Assumptions {
		t.Item(a)
	}
	return t.End(w)
}

// head returns the head of the sheet, with the facts of place, people and dive.
func (p Plan) head() Head {
	d, g := p.Input.Filled().Dive, p.Result.Group
	h := Head{Title: "Gas plan", Of: p.Of, State: p.State, Settled: p.Settled,
		Caution: []string{gasplan.Caution},
		Foot:    strings.TrimSpace(p.Foot + " " + rulesUsed(p.Result.RuleBooks))}
	if h.Of == "" {
		h.Of = fmt.Sprintf("%s for %s", d.Depth.Reading(), d.PlannedTime.Reading())
	}
	h.Facts = append(slices.Clone(p.Facts), Fact{"Greatest depth", d.Depth.Reading().String()})
	if *d.MeanDepth != d.Depth {
		h.Facts = append(h.Facts, Fact{"Planned at", d.MeanDepth.Reading().String()})
	}
	h.Facts = append(h.Facts, Fact{"Planned until the ascent", d.PlannedTime.Reading().String()})
	if p.Input.Filled().Settings.TurnRule != allUsable {
		h.Facts = append(h.Facts, Fact{"Turn after", g.TurnAfter.Reading().String()})
	}
	h.Facts = append(h.Facts, Fact{"Latest start of the ascent", g.LatestAscent.Reading().String()},
		Fact{"Usual ascent, with stop", g.AscentTime.Reading().String()})
	if g.NoStopLimit != nil {
		h.Facts = append(h.Facts, Fact{"No-stop limit, all together", g.NoStopLimit.Reading().String() +
			", by " + p.name(g.NoStopLimitedBy)})
	}
	h.Facts = append(h.Facts, Fact{"First to run low", p.name(g.Limiting)})
	return h
}

const allUsable = "all_usable"

func rulesUsed(books []gasplan.RuleBook) string {
	words := make([]string, len(books))
	for i, b := range books {
		words[i] = b.Name + " " + b.Version
	}
	return "Rule books: " + strings.Join(words, "; ") + "."
}

// name returns the name for a key.
func (p Plan) name(key string) string {
	for _, r := range p.Result.People {
		if r.Key == key {
			return r.Name
		}
	}
	return key
}

// planContent is the data of a plan's template.
type planContent struct {
	Columns     []string // headings of the table, that of the name first
	People      []planPerson
	Figures     []figure
	Size        string // of the figures: "", many, crowd
	Setting     string // on paper: "", tight, tight bare
	Findings    finding.List
	Accepted    []Fact
	Assumptions []string
}

// planPerson is one row of the table.
type planPerson struct {
	Name  string
	Cells []cell
}

// cell is one value of a person, under its heading.
type cell struct {
	Label, Value, More string
	Big                bool // has to be known by heart
	Long               bool // may be broken into lines
	Beside             bool // less important; in plain text in a second table
}

// From how many people on drawings are smaller, so that the sheet stays a page. Our
// choice.
const many, crowd = 3, 7

func (p Plan) content() planContent {
	c := planContent{Columns: []string{"Name"}, Size: sizeOf(len(p.Result.People)), Accepted: p.Accepted,
		Assumptions: p.Result.Assumptions}
	c.Findings = slices.Clone(p.Result.Findings)
	slices.SortStableFunc(c.Findings,
		func(a, b finding.Finding) int { return gravity(a.Severity) - gravity(b.Severity) })
	c.Findings = dropRepeatedCures(mergeAlike(c.Findings, p.about))
	in := p.Input.Filled()
	mixed := slices.ContainsFunc(in.Divers,
		func(v gasplan.DiverInput) bool { return v.Oxygen.Value != gas.Air.Percent() })
	for i, r := range p.Result.People {
		one := planPerson{Name: r.Name, Cells: p.cells(in.Divers[i], r, mixed)}
		c.People = append(c.People, one)
		c.Figures = append(c.Figures, p.figure(in, r))
	}
	c.Setting = c.setting()
	if len(c.People) > 0 {
		for _, x := range c.People[0].Cells {
			c.Columns = append(c.Columns, x.Label)
		}
	}
	return c
}

// about returns the name of the person whom a finding is about, "" for nobody.
func (p Plan) about(f finding.Finding) string {
	if name := finding.NameOf(f.Params["person"]); name != "" {
		return name
	}
	for _, s := range f.Subjects {
		for _, r := range p.Result.People {
			if r.Key == s.ID || r.ParticipantID != nil && r.ParticipantID.String() == s.ID {
				return r.Name
			}
		}
	}
	return ""
}

// curedOnce leaves out the cures of a finding where the next has the same.
func dropRepeatedCures(l finding.List) finding.List {
	for i := range l {
		if i+1 < len(l) && l[i].Rule == l[i+1].Rule && slices.Equal(l[i].Cures, l[i+1].Cures) {
			l[i].Cures = nil
		}
	}
	return l
}

func sizeOf(people int) string {
	switch {
	case people >= crowd:
		return "crowd"
	case people >= many:
		return "many"
	}
	return ""
}

func gravity(s finding.Severity) int {
	return slices.Index([]finding.Severity{finding.Forbidden, finding.Caution, finding.Note}, s)
}

func (p Plan) cells(v gasplan.DiverInput, r gasplan.PersonResult, mixed bool) []cell {
	noStop := "unlimited"
	switch n := r.NoStop; {
	case n.OutsideTables && n.Longest == nil:
		noStop = "outside the tables"
	case n.Longest != nil:
		noStop = n.Longest.Reading().String()
	}
	group := r.NoStop.GroupAfter
	if group != "" {
		group = "then " + group
	}
	out := []cell{{Label: "Start", Value: r.Start.Reading().String()}}
	if p.Input.Filled().Settings.TurnRule == allUsable {
		out = append(out, cell{Label: "Turn and low on gas at", Value: r.Low.Reading().String(), Big: true})
	} else {
		out = append(out, cell{Label: "Turn at", Value: r.Turn.Reading().String(), Big: true},
			cell{Label: "Low on gas at", Value: r.Low.Reading().String(), Big: true})
	}
	out = append(out, cell{Label: "Expected end", Value: r.ExpectedEnd.Reading().String()},
		cell{Label: "Gas lasts", Value: r.GasTime.Reading().String()},
		cell{Label: "Shares gas with", Value: p.name(r.SharesWith), Long: true},
		cell{Label: "Breathes", Value: r.Rate.Reading().String(), More: rateFrom(r), Beside: true},
		cell{Label: "No-stop time, group", Value: noStop, More: group, Beside: true},
		cell{Label: "Cylinder", Value: cylinder(v.Cylinder), Beside: true})
	if mixed {
		out = append(out, cell{Label: "Oxygen", Value: v.Oxygen.Reading().String(), More: "to " +
			r.MixMaxDepth.Reading().String(), Beside: true})
	}
	return out
}

// rateFrom returns the source of a rate in a few words. What would lower a novice's
// rate is listed among the assumptions.
func rateFrom(r gasplan.PersonResult) string {
	short, _, _ := strings.Cut(r.RateFrom, ":")
	return short
}

// cylinder returns a person's cylinder in words: "2 × 12 L, 232 bar".
func cylinder(c gasplan.CylinderInput) string {
	size, at := c.WaterVolume, c.WorkingPressure
	if size == nil {
		size, at = c.RatedCapacity, c.RatedPressure
	}
	if size == nil {
		return "not stated"
	}
	out := size.Reading().String()
	if c.Count > 1 {
		out = fmt.Sprintf("%d × %s", c.Count, out)
	}
	if at != nil {
		out += ", " + at.Reading().String()
	}
	return out
}

// rows returns the plain-text table of the important values, or of the others.
func (c planContent) rows(beside bool) (heading []string, rows [][]string) {
	heading = []string{"Name"}
	for i, p := range c.People {
		row := []string{p.Name}
		for _, x := range p.Cells {
			if x.Beside != beside {
				continue
			}
			row = append(row, strings.TrimSpace(x.Value+" "+x.More))
			if i == 0 {
				heading = append(heading, x.Label)
			}
		}
		rows = append(rows, row)
	}
	return heading, rows
}

// minutes returns a time of the plan in minutes.
func minutes(q gasplan.Quantity) float64 { return q.Reading().Minutes() }

// metres returns a depth of the plan in metres.
func metres(q gasplan.Quantity) float64 { return q.Reading().Depth().In(units.UnitMetre) }

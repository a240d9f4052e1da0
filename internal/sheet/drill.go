package sheet

import (
	"fmt"
	"html/template"
	"io"

	"tankside/internal/finding"
)

// Drill is the content of a drill script's sheet, to be taken along on a slate:
// large type, and each instruction once.
type Drill struct {
	Cards    []DrillCard // in the order in which they are called
	Expected []Fact      // the expected response to each surprise
	LeftOut  string      // what is left out for which student, and why; "" for nothing
	Findings finding.List
}

// DrillCard is one call.
type DrillCard struct {
	Number int
	Name   string
	Gauge  string // what the gauge shows in the drill: "187 bar"
	Report string // the correct report: "180 bar"
	Hands  string // its gestures in words
	Then   string // the response after the report, as in Expected; "" for none
}

// Size returns the class of size on paper: as large as one page has room for.
func (d Drill) Size() string {
	if len(d.Cards) > 24 {
		return "many"
	}
	return ""
}

var drillBody = func() *template.Template {
	text, err := files.ReadFile("drill.gohtml")
	if err != nil {
		panic("sheet: the drill's body is not embedded: " + err.Error())
	}
	return Body(string(text))
}()

// HTML writes the drill as a page.
func (d Drill) HTML(w io.Writer, h Head) error { return HTML(w, h, drillBody, d) }

// Text writes the drill as plain text.
func (d Drill) Text(w io.Writer, h Head) error {
	t := NewText(h)
	t.Section("Cards")
	rows := make([][]string, len(d.Cards))
	for i, c := range d.Cards {
		rows[i] = []string{fmt.Sprint(c.Number), c.Name, c.Gauge, c.Report, textOrDash(c.Then)}
	}
	t.Table([]string{"No", "Diver", "Gauge", "Report", "Then"}, rows)
	t.Section("Shown as")
	said := map[string]bool{}
	for _, c := range d.Cards {
		if !said[c.Report] {
			said[c.Report] = true
			t.Item(c.Report + ": " + c.Hands)
		}
	}
	if len(d.Expected) > 0 {
		t.Section("What is expected then")
	}
	for _, e := range d.Expected {
		t.Item(e.Label + ": " + e.Value)
	}
	if d.LeftOut != "" {
		t.Section("Left out")
		t.Para(d.LeftOut)
	}
	if len(d.Findings) > 0 {
		t.Section("To mind")
		t.Findings(d.Findings)
	}
	return t.End(w)
}

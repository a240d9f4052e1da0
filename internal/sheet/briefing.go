package sheet

import (
	"html/template"
	"io"
	"slices"

	"tankside/internal/finding"
)

// Briefing is the content of a briefing's sheet.
type Briefing struct {
	People        []BriefingPerson
	Signs         []BriefingSign
	WhenLow       string
	WhenOut       string
	WhenSeparated string
	Roles         []Fact
	Emergency     string // "" where no site has any
	Note          string
	Findings      finding.List
}

// BriefingPerson is one person's pressures for one dive, or for all dives.
type BriefingPerson struct {
	Name        string
	Dive        string            // "dive 2"; "" for every dive
	Heard       string            // how and when it was acknowledged; "" for not yet
	Figures     [3]BriefingFigure // start, turn, low on gas
	Differences []BriefingDiffers // from the signals that the person was trained in
}

// BriefingFigure is a pressure with its hand signals.
type BriefingFigure struct {
	Label string
	Text  string        // "110 bar"; "" when the briefing has none
	Hands string        // the gestures in words
	Strip template.HTML // the gestures as an SVG drawn by the service; "" for none
}

// BriefingDiffers is one signal that means something else elsewhere.
type BriefingDiffers struct{ Who, What, Here, There string }

// BriefingSign is a message with its gesture.
type BriefingSign struct {
	Meaning string
	Gesture string
	Picture template.HTML // an SVG drawn by the service
}

var briefingBody = func() *template.Template {
	text, err := files.ReadFile("briefing.gohtml")
	if err != nil {
		panic("sheet: the briefing's body is not embedded: " + err.Error())
	}
	return Body(string(text))
}()

// HTML writes the briefing as a page.
func (b Briefing) HTML(w io.Writer, h Head) error { return HTML(w, h, briefingBody, b) }

// Text writes the briefing as plain text.
func (b Briefing) Text(w io.Writer, h Head) error {
	t := NewText(h)
	t.Section("Pressures on the hand")
	var rows [][]string
	for _, p := range b.People {
		row := []string{p.Name}
		if p.Dive != "" {
			row[0] += ", " + p.Dive
		}
		for _, f := range p.Figures {
			row = append(row, textOrDash(f.Text))
		}
		heard := "[x] " + p.Heard
		if p.Heard == "" {
			heard = "[ ]"
		}
		rows = append(rows, append(row, heard))
	}
	t.Table([]string{"Diver", "Start", "Turn", "Low", "Acknowledged"}, rows)
	b.numbers(t)
	t.Section("Signs")
	for _, s := range b.Signs {
		t.Item(s.Meaning + ": " + s.Gesture)
	}
	t.Section("What to do")
	t.Item("Low on gas: " + b.WhenLow)
	t.Item("Out of gas: " + b.WhenOut)
	t.Item("Separated: " + b.WhenSeparated)
	b.rest(t)
	return t.End(w)
}

// numbers writes how each pressure is shown, once, and the differences by person.
func (b Briefing) numbers(t *Text) {
	t.Section("Shown as")
	for _, f := range b.Hands() {
		t.Item(f.Text + ": " + f.Hands)
	}
	for _, d := range b.Differences() {
		t.Item("! " + d.Who + ": trained otherwise. " + d.What + ": here " + d.Here + "; there " + d.There)
	}
}

// Differences returns the differences from the signals that people were trained in;
// people with the same difference share one.
func (b Briefing) Differences() []BriefingDiffers {
	var out []BriefingDiffers
	for _, p := range b.People {
		for _, d := range p.Differences {
			i := slices.IndexFunc(out, func(x BriefingDiffers) bool {
				return x.What == d.What &&
					x.Here == d.Here && x.There == d.There
			})
			if i < 0 {
				out = append(out, d)
				continue
			}
			out[i].Who += ", " + d.Who
		}
	}
	return out
}

// Size returns the size of type for the number of rows.
func (b Briefing) Size() string { return sizeOf(len(b.People)) }

// ToMind returns the findings, with those about several people merged.
func (b Briefing) ToMind() finding.List {
	return dropRepeatedCures(mergeAlike(b.Findings, func(f finding.Finding) string {
		return finding.NameOf(f.Params["person"])
	}))
}

// Hands returns every pressure that a person has to show, once, so that a group of
// any size fits on one page.
func (b Briefing) Hands() []BriefingFigure {
	var out []BriefingFigure
	said := map[string]bool{}
	for _, p := range b.People {
		for _, f := range p.Figures {
			if f.Hands != "" && !said[f.Text] {
				said[f.Text] = true
				out = append(out, f)
			}
		}
	}
	return out
}

func (b Briefing) rest(t *Text) {
	if len(b.Roles) > 0 {
		t.Section("Who does what")
	}
	for _, r := range b.Roles {
		t.Item(r.Label + ": " + r.Value)
	}
	if b.Emergency != "" {
		t.Section("In an emergency")
		t.Para(b.Emergency)
	}
	if b.Note != "" {
		t.Section("Note")
		t.Para(b.Note)
	}
	if len(b.Findings) > 0 {
		t.Section("To mind")
		t.Findings(b.ToMind())
	}
}

func textOrDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

package sheet

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"tankside/internal/finding"
	"tankside/internal/wording"
)

// lineWidth is the longest line of a text sheet in characters: what a terminal shows and
// A4 paper takes. A table may be wider where it has to.
const lineWidth = 80

// Text is a text sheet being written. It is buffered; the writer's errors are
// returned by End.
type Text struct {
	b bytes.Buffer
	h Head
}

// NewText returns a text sheet that begins with its head.
func NewText(h Head) *Text {
	t := &Text{h: h}
	title := strings.ToUpper(h.Title)
	if h.Of != "" {
		title += ": " + wording.Shown(h.Of)
	}
	fmt.Fprintf(&t.b, "%s\n%s\n", title, strings.Repeat("=", utf8.RuneCountInString(title)))
	if h.State != "" {
		mark := ""
		if !h.Settled {
			mark = "*** "
		}
		t.Para(mark + h.State)
	}
	for _, f := range h.Facts {
		t.Para(f.Label + ": " + f.Value)
	}
	return t
}

// Section writes the title of a part of the sheet.
func (t *Text) Section(title string) {
	fmt.Fprintf(&t.b, "\n%s\n%s\n", title, strings.Repeat("-", utf8.RuneCountInString(title)))
}

// Para writes a paragraph, broken into lines.
func (t *Text) Para(text string) { t.hanging("", text) }

// Item writes one point of a list.
func (t *Text) Item(text string) { t.hanging("- ", text) }

// hanging writes a paragraph whose further lines are indented by the width of its
// lead.
func (t *Text) hanging(lead, text string) {
	line, indent := lead, strings.Repeat(" ", utf8.RuneCountInString(lead))
	blank := true // the line has no word yet
	for _, word := range words(wording.Shown(text)) {
		if !blank && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > lineWidth {
			fmt.Fprintln(&t.b, line)
			line, blank = indent, true
		}
		if !blank {
			line += " "
		}
		line, blank = line+word, false
	}
	fmt.Fprintln(&t.b, line)
}

// numbered matches a number with the word after it, which is mostly its unit.
var numbered = regexp.MustCompile(`([0-9]) ([a-zA-Z%°])`)

// words splits a text where a line may end: not between a number and its unit.
func words(text string) []string {
	const glue = "\x00"
	all := strings.Fields(numbered.ReplaceAllString(text, "$1"+glue+"$2"))
	for i, w := range all {
		all[i] = strings.ReplaceAll(w, glue, " ")
	}
	return all
}

// Table writes rows under their headings, in columns.
func (t *Text) Table(heading []string, rows [][]string) {
	w := tabwriter.NewWriter(&t.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, strings.Join(heading, "\t"))
	for _, r := range rows {
		cells := make([]string, len(r))
		for i, cell := range r {
			cells[i] = wording.Shown(cell)
		}
		fmt.Fprintln(w, strings.Join(cells, "\t"))
	}
	w.Flush() // cannot fail: it writes into a buffer
}

// Findings writes findings with their cures.
func (t *Text) Findings(l finding.List) {
	for _, f := range l {
		t.hanging("", severityWords[f.Severity]+": "+f.Message)
		for _, c := range f.Cures {
			t.hanging("  -> ", c.Message)
		}
	}
}

// End writes the caution and the foot, and all of it to w.
func (t *Text) End(w io.Writer) error {
	fmt.Fprintln(&t.b)
	for i, p := range t.h.Caution {
		if i == 0 {
			p = "CAUTION. " + p
		}
		t.Para(p)
	}
	if t.h.Foot != "" {
		fmt.Fprintln(&t.b)
		t.Para(t.h.Foot)
	}
	_, err := w.Write(t.b.Bytes())
	return err
}

// Package sheet writes the pages that hang on the wall of a dive centre or are read
// on a phone beside the water: one HTML page or one page of plain text, with the
// same content and no references to other files.
//
// It owns the look of sheets: the common frame, the drawing of a dive, the tables.
// It must not know a rule, a database or a request: the caller has planned, judged
// and chosen the words already.
//
// A sheet has no scripts and loads nothing. It is legible on A4 paper in black and
// white and on a phone held upright, and nothing depends on colour alone.
package sheet

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"

	"tankside/internal/finding"
	"tankside/internal/wording"
)

// Policy is the Content-Security-Policy with which a sheet is served: its own styles
// and nothing else.
const Policy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"

// Head is the first and last part of every sheet.
type Head struct {
	Title string // the kind of sheet: "Gas plan"
	Of    string // its subject: "Cove 2, group blue"
	// State is whether it may be used, in words: "Confirmed by Ines Prado, 6 June 2027 07:40"
	// or "Not confirmed".
	State   string
	Settled bool     // whether it may be used; otherwise State stands out
	Facts   []Fact   // short facts beside the title
	Caution []string // paragraphs; never empty
	Foot    string   // when it was made, from what, by which rule book
}

// Fact is one short fact with its label.
type Fact struct{ Label, Value string }

//go:embed *.gohtml *.css
var files embed.FS

var frame = template.Must(template.ParseFS(files, "frame.gohtml"))

var style = func() template.CSS {
	text, err := files.ReadFile("sheet.css")
	if err != nil {
		panic("sheet: the styles are not embedded: " + err.Error())
	}
	return template.CSS(text)
}()

var funcs = template.FuncMap{
	"shown": wording.Shown,
	"word":  func(s finding.Severity) string { return severityWords[s] },
}

// severityWords has the words for each severity, so that it is legible without
// colours.
var severityWords = map[finding.Severity]string{finding.Forbidden: "✕ Forbidden",
	finding.Caution: "⚠ Caution", finding.Note: "Note"}

// Body parses the template of a sheet's content. The text may use {{template
// "findings" .}} for a finding.List.
func Body(text string) *template.Template {
	parts := template.Must(template.New("parts").Funcs(funcs).ParseFS(files, "findings.gohtml"))
	return template.Must(parts.New("body").Parse(text))
}

// HTML writes a whole page: the frame with the body in it.
func HTML(w io.Writer, h Head, body *template.Template, content any) error {
	var inside bytes.Buffer
	if err := body.ExecuteTemplate(&inside, "body", content); err != nil {
		return fmt.Errorf("write sheet: %w", err)
	}
	var page bytes.Buffer
	err := frame.Execute(&page, struct {
		Head
		Style template.CSS
		Body  template.HTML
	}{h, style, template.HTML(inside.String())})
	if err != nil {
		return fmt.Errorf("write sheet: %w", err)
	}
	_, err = w.Write(page.Bytes())
	return err
}

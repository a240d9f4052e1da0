package signal

import (
	"fmt"
	"strings"
)

// Colours of the pictures: a dark line that survives a bad printer, a light
// hand, a grey suit. All pictures have a white ground, so that they look the
// same on a dark page.
const (
	ink   = "#13262f"
	skin  = "#f4d9b4"
	suit  = "#b9c8d2"
	glass = "#e6f2f7"
	hint  = "#b3261e" // arrows that show a movement
)

// A part is one shape: a line with round ends, as fingers and arms are drawn, or an area where the
// width is zero.
type part struct {
	path string
	w    float64
	fill string
}

// A layer is parts that melt into one silhouette: all outlines are drawn before all fillings.
// Creases are thin lines on top. A layer covers those before it.
type layer struct {
	parts   []part
	creases []string
	place   place
}

// A place positions a layer that is drawn around (100, 110).
type place struct {
	x, y  float64
	scale float64
	turn  float64 // degrees, clockwise
	flip  bool    // mirrored left to right before turning
}

// upright is the place that leaves a drawing as it was drawn.
var upright = place{x: 100, y: 110, scale: 1}

func (p place) transform() string {
	sx := p.scale
	if p.flip {
		sx = -sx
	}
	return fmt.Sprintf("translate(%g %g) rotate(%g) scale(%g %g) translate(-100 -110)",
		p.x, p.y, p.turn, sx, p.scale)
}

// line is the width of the dark outline in the finished picture.
const line = 3.2

func (l layer) write(b *strings.Builder) {
	o := line / l.place.scale
	fmt.Fprintf(b, `<g transform="%s" stroke-linecap="round" stroke-linejoin="round">`, l.place.transform())
	for _, p := range l.parts {
		p.write(b, ink, ink, p.w+2*o)
	}
	for _, p := range l.parts {
		p.write(b, p.fill, p.fill, p.w)
	}
	for _, d := range l.creases {
		fmt.Fprintf(b, `<path d="%s" fill="none" stroke="%s" stroke-width="%.2f"/>`, d, ink, 0.75*o)
	}
	b.WriteString("</g>")
}

func (p part) write(b *strings.Builder, stroke, fill string, w float64) {
	if p.w > 0 {
		fill = "none"
	}
	if w == 0 {
		stroke = "none"
	}
	fmt.Fprintf(b, `<path d="%s" fill="%s" stroke="%s" stroke-width="%.2f"/>`, p.path, fill, stroke, w)
}

// A picture is layers on a canvas 220 high.
type picture struct {
	width  float64
	layers []layer
	moves  []string // arrows: paths from tail to head, with the head drawn along
}

const height = 220.0

func (p picture) body() string {
	var b strings.Builder
	for _, l := range p.layers {
		l.write(&b)
	}
	for _, d := range p.moves {
		fmt.Fprintf(&b,
			`<path d="%s" fill="none" stroke="%s" stroke-width="5" stroke-linecap="round" stroke-linejoin="round"/>`,
			d, hint)
	}
	return b.String()
}

var escapeXML = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

// frame returns a drawing as an SVG document with its text alternative.
func frame(width, height float64, title, desc, body string) string {
	return fmt.Sprintf(
		`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-label="%s">`+
			`<title>%s</title><desc>%s</desc><rect width="%g" height="%g" rx="10" fill="#fff"/>%s</svg>`,
		width, height, escapeXML.Replace(title+". "+
			desc), escapeXML.Replace(title), escapeXML.Replace(desc), width, height, body)
}

// cell returns a picture placed inside a larger one; what lies outside the cell is cut off.
func (p picture) cell(x, y float64) string {
	return fmt.Sprintf(`<svg x="%g" y="%g" width="%g" height="%g" viewBox="0 0 %g %g">%s</svg>`,
		x, y, p.width, height, p.width, height, p.body())
}

func caption(x, y, size float64, text string) string {
	return fmt.Sprintf(
		`<text x="%g" y="%g" font-family="sans-serif" font-size="%g" text-anchor="middle" fill="%s">%s</text>`,
		x, y, size, ink, escapeXML.Replace(text))
}

package signal

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"sync"

	"tankside/internal/units"
)

// Picture returns the gesture as an SVG document with its text alternative, "" for an unknown
// gesture.
func (g Gesture) Picture() string {
	s, ok := g.Sight()
	if !ok {
		return ""
	}
	p := pictures[g]
	return frame(p.width, height, s.Title, s.Text, p.body())
}

// Sizes of a strip, in the units of the pictures.
const (
	gap       = 14.0
	widest    = 900.0 // the width at which a row is continued below
	labelRoom = 34.0
	headRoom  = 44.0
)

// Strip returns an SVG document of a sequence from left to right, numbered, under a heading such as
// "1700 psi". Each gesture has its part of the number under it. Unknown gestures are left out of
// the picture, not of its text alternative.
func (c Convention) Strip(seq Sequence, heading string) string {
	var b strings.Builder
	x, y, width := gap, headRoom, 0.0
	for i, g := range seq {
		p := pictures[g]
		if i > 0 && x+p.width > widest {
			x, y = gap, y+height+labelRoom
		}
		b.WriteString(p.cell(x, y))
		b.WriteString(caption(x+p.width/2, y+height+25, 25, c.label(i, seq)))
		x += p.width + gap
		width = max(width, x)
	}
	width = max(width, 200+2*gap)
	b.WriteString(caption(width/2, 32, 28, heading))
	return frame(width, y+height+labelRoom, heading, seq.String(), b.String())
}

// label returns what the gesture at i adds to the number: "7" for a digit, "2000 psi" for a part.
func (c Convention) label(i int, seq Sequence) string {
	g, step := seq[i], c.Step().Value.Float()
	d, counted := c.digit(g)
	n := float64(d)
	switch {
	case c.Style == TeeAndRest && g == Tee:
		return c.amount(float64(c.stepsOfTee()) * step)
	case c.Style == Fives && g == c.count(c.fullHands()):
		return c.amount(float64(c.fullHands()) * step)
	case c.Style == Forearm && g != Ring && !counted:
		return c.amount(float64(c.forearm(g)) * 10 * step)
	case !counted:
		return g.String()
	case c.Style == Digits || c.Style == TeeAndRest:
		return fmt.Sprint(d)
	}
	return c.amount(n * step)
}

func (c Convention) amount(x float64) string { return units.Read(x, c.Unit).String() }

// ContactSheet returns an SVG document of every gesture with its title, five to a row.
func ContactSheet() string {
	const across, cellWidth, cellHeight = 5, 350.0, height + 50
	var b strings.Builder
	for i, s := range sights {
		p := pictures[s.Gesture]
		x, y := float64(i%across)*cellWidth, float64(i/across)*cellHeight
		b.WriteString(p.cell(x+(cellWidth-p.width)/2, y+8))
		b.WriteString(caption(x+cellWidth/2, y+height+34, 22, s.Title))
	}
	rows := (len(sights) + across - 1) / across
	return frame(across*cellWidth, float64(rows)*cellHeight, "Hand signals", "Every gesture with its title.",
		b.String())
}

// Edition returns a name for the present drawings, for caches. It changes whenever a picture, the
// contact sheet or the layout of a strip does.
var Edition = sync.OnceValue(func() string {
	h := sha256.New()
	for _, s := range sights {
		fmt.Fprintln(h, s.Gesture.Picture())
	}
	for _, c := range Ready() {
		seq := c.show(26)
		fmt.Fprintln(h, c.Strip(seq, seq.String()))
	}
	fmt.Fprintln(h, ContactSheet())
	return hex.EncodeToString(h.Sum(nil)[:5])
})

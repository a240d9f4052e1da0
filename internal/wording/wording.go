// Package wording checks the characters of a text that a person wrote, so that a name cannot forge
// a line of a sheet, turn round the text beside it, or be invisible.
//
// It must not know what a text is about. internal/httpapi checks every text of a request,
// internal/intake every field of a list, commands their arguments.
package wording

import (
	"fmt"
	"strings"
	"unicode"
)

// Fault is what is wrong with the characters of a text; the zero Fault is nothing.
type Fault struct {
	Kind      Kind
	Character rune // not of Unseen
}

// Kind is the sort of a Fault.
type Kind int

// The kinds of faults.
const (
	LineBreak Kind = iota + 1 // in a text of one line
	Control                   // a control character
	Direction                 // a character that sets the direction of the text around it
	Unseen                    // a text of invisible characters alone
)

// Found reports whether something is wrong.
func (f Fault) Found() bool { return f.Kind != 0 }

// Code returns the character as Unicode writes it: "U+202E".
func (f Fault) Code() string { return fmt.Sprintf("U+%04X", f.Character) }

// String returns what is wrong and what would cure it; "" for nothing.
func (f Fault) String() string {
	switch f.Kind {
	case LineBreak:
		return "It has a line break (" + f.Code() + "), and this is a text of one line."
	case Control:
		return "It has a control character (" + f.Code() + "). Leave it out."
	case Direction:
		return "It has a character that turns the direction of writing (" + f.Code() + "). Leave it out."
	case Unseen:
		return "It has no character that can be seen. Write something."
	}
	return ""
}

// OneLine returns what is wrong with a text of one line, "" for nothing. Refused are control
// characters, line and paragraph separators, the characters that set the direction of the text
// around them (Unicode Standard Annex 9), and a text of invisible characters alone. An empty text
// is allowed.
func OneLine(text string) string { return Check(text, false).String() }

// Lines checks a text of several lines like OneLine, and allows line feeds and tabs.
func Lines(text string) string { return Check(text, true).String() }

// Check returns what is wrong with a text, of one line or, with lines, of several.
func Check(text string, lines bool) Fault {
	seen := text == ""
	for _, r := range text {
		switch {
		case lines && (r == '\n' || r == '\t'):
		case lineBreak(r):
			return Fault{LineBreak, r}
		case unicode.IsControl(r):
			return Fault{Control, r}
		case directs(r):
			return Fault{Direction, r}
		case !invisible(r):
			seen = true
		}
	}
	if !seen {
		return Fault{Kind: Unseen}
	}
	return Fault{}
}

// lineBreak reports whether a character begins another line: LF, VT, FF, CR, NEL, and the
// separators of lines and paragraphs (Unicode Standard Annex 14, classes BK, CR, LF, NL).
func lineBreak(r rune) bool {
	return r >= '\n' && r <= '\r' || r == 0x85 || r == 0x2028 || r == 0x2029
}

// directs reports whether a character sets the direction of others: the marks,
// embeddings, overrides and isolates of Unicode Standard Annex 9, section 2.
func directs(r rune) bool {
	return r == 0x61c || r == 0x200e || r == 0x200f || r >= 0x202a && r <= 0x202e ||
		r >= 0x2066 && r <= 0x2069
}

// blanks are invisible characters outside of the categories of spaces and formats: fillers,
// variation selectors (Unicode Character Database, Default_Ignorable_Code_Point), and the empty
// Braille pattern, U+2800.
var blanks = &unicode.RangeTable{
	R16: []unicode.Range16{{0x034f, 0x034f, 1}, {0x115f, 0x1160, 1}, {0x17b4, 0x17b5, 1}, {0x180b, 0x180f, 1},
		{0x2800, 0x2800, 1}, {0x3164, 0x3164, 1}, {0xfe00, 0xfe0f, 1}, {0xffa0, 0xffa0, 1}},
	R32: []unicode.Range32{{0xe0000, 0xe0fff, 1}},
}

// invisible reports whether a character alone shows nothing. Joiners and variation selectors are in
// use in many scripts, beside characters that can be seen.
func invisible(r rune) bool {
	return unicode.In(r, unicode.Zs, unicode.Cf, blanks)
}

// The marks that isolate a text from the direction of its neighbours (Unicode Standard Annex 9,
// section 2.4): first-strong isolate, and its end.
const (
	isolate = "\u2068"
	end     = "\u2069"
)

// Shown returns a text fit for a line of plain text. It mends texts that an earlier release
// accepted: direction marks are left out, and line breaks become spaces. Words written from right
// to left are isolated from the rest.
func Shown(text string) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case directs(r):
			return -1
		case unicode.IsControl(r), lineBreak(r):
			return ' '
		}
		return r
	}, text)
	if !strings.ContainsFunc(text, leftwards) {
		return text
	}
	words := strings.Split(text, " ")
	for i, w := range words {
		turned := func(j int) bool {
			return j >= 0 && j < len(words) && strings.ContainsFunc(words[j], leftwards)
		}
		if turned(i) && !turned(i-1) {
			w = isolate + w
		}
		if turned(i) && !turned(i+1) {
			w += end
		}
		words[i] = w
	}
	return strings.Join(words, " ")
}

// leftwards reports whether a character is of a script that is written from right to left.
func leftwards(r rune) bool {
	return r > 0x590 && unicode.In(r,
		unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko, unicode.Samaritan, unicode.Mandaic, unicode.Adlam, unicode.Hanifi_Rohingya)
}

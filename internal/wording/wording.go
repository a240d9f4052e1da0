// Package wording says which characters a text that somebody wrote may have, so
// that a name cannot forge a line of a sheet, turn round what stands beside it, or
// be there unseen.
//
// It must not know what a text is about. The edge asks it about every text of a
// request, intake about every field of a list, commands about their arguments.
package wording

import (
	"fmt"
	"strings"
	"unicode"
)

// OneLine returns what is wrong with a text of one line, "" for nothing. It has no
// control characters and no line or paragraph separators, none of the characters
// that set the direction of the text around them (Unicode Standard Annex 9), and
// where it has characters at all, one that can be seen.
func OneLine(text string) string { return check(text, false) }

// Lines is OneLine for a text of several lines, which may have line feeds and tabs.
func Lines(text string) string { return check(text, true) }

func check(text string, lines bool) string {
	seen := text == ""
	for _, r := range text {
		switch {
		case lines && (r == '\n' || r == '\t'):
		case lineBreak(r):
			return fmt.Sprintf("It has a line break (U+%04X), and this is a text of one line.", r)
		case unicode.IsControl(r):
			return fmt.Sprintf("It has a control character (U+%04X). Leave it out.", r)
		case directs(r):
			return fmt.Sprintf("It has a character that turns the direction of writing (U+%04X). Leave it out.", r)
		case !invisible(r):
			seen = true
		}
	}
	if !seen {
		return "It has no character that can be seen. Write something."
	}
	return ""
}

// lineBreak reports whether a character begins another line: LF, VT, FF, CR, NEL,
// and the separators of lines and paragraphs (Unicode Standard Annex 14, class BK,
// CR, LF, NL).
func lineBreak(r rune) bool {
	return r >= '\n' && r <= '\r' || r == 0x85 || r == 0x2028 || r == 0x2029
}

// directs reports whether a character sets the direction of others: the marks,
// embeddings, overrides and isolates of Unicode Standard Annex 9, section 2.
func directs(r rune) bool {
	return r == 0x61c || r == 0x200e || r == 0x200f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069
}

// blanks are characters outside of the categories of spaces and formats that show
// nothing: fillers, the empty Braille pattern (Unicode Character Database,
// Default_Ignorable_Code_Point, and U+2800).
var blanks = &unicode.RangeTable{
	R16: []unicode.Range16{{0x034f, 0x034f, 1}, {0x115f, 0x1160, 1}, {0x17b4, 0x17b5, 1}, {0x180b, 0x180f, 1}, {0x2800, 0x2800, 1},
		{0x3164, 0x3164, 1}, {0xfe00, 0xfe0f, 1}, {0xffa0, 0xffa0, 1}},
	R32: []unicode.Range32{{0xe0000, 0xe0fff, 1}},
}

// invisible reports whether a character shows nothing by itself. Joiners and
// variation selectors are used in many scripts; alone they are nothing.
func invisible(r rune) bool {
	return unicode.In(r, unicode.Zs, unicode.Cf, blanks)
}

// The marks that keep a text apart from the direction of what stands beside it
// (Unicode Standard Annex 9, section 2.4): first-strong isolate, and its end.
const (
	isolate = "\u2068"
	end     = "\u2069"
)

// Shown returns a text as a line of plain text may show it: what is not taken any
// longer and may stand in what an earlier release took is left out, line breaks are
// spaces, and words written from right to left are kept apart from the rest.
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
		turned := func(j int) bool { return j >= 0 && j < len(words) && strings.ContainsFunc(words[j], leftwards) }
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

// leftwards reports whether a letter is of a script that is written from right to
// left.
func leftwards(r rune) bool {
	return r > 0x590 && unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko, unicode.Samaritan,
		unicode.Mandaic, unicode.Adlam, unicode.Hanifi_Rohingya)
}

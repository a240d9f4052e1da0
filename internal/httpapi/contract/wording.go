package contract

import (
	"slices"
	"strconv"

	"tankside/internal/finding"
	"tankside/internal/wording"
)

// OfSeveralLines are the members of requests whose texts may have several lines;
// every other text of a request is one line. A test holds the contract against it.
var OfSeveralLines = []string{"actions", "called", "emergency", "note", "reason", "text", "what", "when_low",
	"when_out", "when_separated"}

// wordedBadly returns what is wrong with the characters of a text at a path of a
// body.
func wordedBadly(path []string, text string) wording.Fault {
	for _, member := range slices.Backward(path) {
		if _, err := strconv.Atoi(member); err == nil {
			continue // of a list
		}
		if slices.Contains(OfSeveralLines, member) {
			return wording.Check(text, true)
		}
		break
	}
	return wording.Check(text, false)
}

// misleading returns the finding for what is wrong with the characters of a text.
func misleading(f wording.Fault) finding.Finding {
	switch f.Kind {
	case wording.LineBreak:
		return badWording.Say("It has a line break ({character}), and this is a text of one line.", f.Code())
	case wording.Control:
		return badWording.Say("It has a control character ({character}). Leave it out.", f.Code())
	case wording.Direction:
		return badWording.Say("It has a character that turns the direction of writing ({character}). Leave it out.",
			f.Code())
	}
	return badWording.Say("It has no character that can be seen. Write something.")
}

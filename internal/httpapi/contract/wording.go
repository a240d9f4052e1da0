package contract

import (
	"slices"
	"strconv"

	"tankside/internal/wording"
)

// OfSeveralLines are the members of requests whose texts may have several lines;
// every other text of a request is one line. A test holds the contract against it.
var OfSeveralLines = []string{"actions", "called", "emergency", "note", "reason", "text", "what", "when_low",
	"when_out", "when_separated"}

// wordedBadly returns what is wrong with the characters of a text at a path of a
// body, "" for nothing.
func wordedBadly(path []string, text string) string {
	for _, member := range slices.Backward(path) {
		if _, err := strconv.Atoi(member); err == nil {
			continue // of a list
		}
		if slices.Contains(OfSeveralLines, member) {
			return wording.Lines(text)
		}
		break
	}
	return wording.OneLine(text)
}

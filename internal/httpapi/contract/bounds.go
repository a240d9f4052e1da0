package contract

import (
	"bytes"
	"encoding/json"
	"regexp"
	"unicode/utf8"

	"tankside/internal/fault"
	"tankside/internal/finding"
)

// What a request may cost, all our choice. What breaks the contract is told up
// to so many findings: enough to put a form right, and the same for a body that
// is nothing but breaches. The largest body that the contract's examples of its
// longest lists make has some thousand values.
const (
	MostBreaches   = 20
	mostValues     = 20_000 // of a body: texts, numbers, lists and objects
	mostStrays     = 500    // values that stand where nothing such is taken
	mostParameters = 250    // of a query: four filters of fifty ids, and some
	longestQuery   = 16 << 10
	longestNumber  = 40        // characters
	longestQuoted  = 128 << 10 // bytes of a text as it is written, escapes included; the longest that the contract takes has 10,000 characters
	longestText    = 8 << 10   // bytes that a pattern is tried on where fewer characters are taken
	LongestMessage = 400       // bytes of a breach's message, since it may repeat what was sent
	LongestPointer = 200
)

// Breach is the fault of a request that breaks the contract. Of many findings
// it has the first, and one that says that there are more.
func Breach(l finding.List) error {
	message := "The request breaks the contract; each finding says where."
	if len(l) > MostBreaches {
		l = append(l[:MostBreaches:MostBreaches],
			furtherBreaches.Say("There is more wrong than these {count}. Put them right, and send the request again.", MostBreaches))
	}
	for i := range l {
		l[i] = short(l[i])
	}
	if len(l) == 1 {
		message = l[0].Message
	}
	return fault.New(fault.Malformed, "invalid_request", message).With(l...)
}

// short returns a finding that repeats no more than a little of what was sent.
func short(f finding.Finding) finding.Finding {
	f.Message, f.Pointer = clipSentence(f.Message), Clip(f.Pointer, LongestPointer)
	for name, v := range f.Params {
		if text, ok := v.(string); ok {
			f.Params[name] = Clip(text, LongestPointer)
		}
	}
	return f
}

// longQuote is a quoted value that is too long to be repeated whole.
var longQuote = regexp.MustCompile(`'[^']{200,}'`)

// clipSentence shortens what a message quotes, and where that is not enough the
// message itself, so that it still is a sentence.
func clipSentence(s string) string {
	if len(s) <= LongestMessage {
		return s
	}
	s = longQuote.ReplaceAllStringFunc(s,
		func(q string) string { return Clip(q[:len(q)-1], LongestPointer) + "'" })
	if len(s) <= LongestMessage {
		return s
	}
	return Clip(s, LongestMessage) + "."
}

// Clip cuts a text to so many bytes, between two characters.
func Clip(s string, most int) string {
	if len(s) <= most {
		return s
	}
	for most > 0 && !utf8.RuneStart(s[most]) {
		most--
	}
	return s[:most] + "…"
}

// checkBody finds what is wrong with a JSON body before the validator sees it:
// first how much there is of it, then what it says. Where little is wrong it
// leaves the words to the validator and returns nothing.
func (op *Operation) checkBody(contentType string, body []byte) finding.List {
	if len(body) == 0 || !IsJSON(contentType) {
		return nil
	}
	return measured(body, op.bodies[mediaOf(contentType)])
}

// measured finds what is wrong with JSON as checkBody does.
func measured(body []byte, of *shape) finding.List {
	if found := wellFormed(body, of); len(found) > 0 {
		return found
	}
	if found := inContent(body, of); len(found) > MostBreaches {
		return found
	}
	return nil
}

// overfull finds that a body has more values than are looked at, or a list in it
// more items than it may have, and nothing else.
func overfull(body []byte, of *shape) finding.List {
	w := walker{decoder: json.NewDecoder(bytes.NewReader(body)), counting: true}
	w.decoder.UseNumber()
	_ = w.document(of) // said by whoever reads it
	return w.found
}

// Package finding has the results of rules: the rule, the severity, the limit, what was found, what
// would cure it, and the limit's source.
//
// It owns this vocabulary and nothing else. It must not know any rule: each rule package declares
// its own Rules and makes findings from them.
package finding

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tankside/internal/units"
)

// Severity is what a finding does to a decision.
type Severity string

// The severities, gravest first. A forbidden finding refuses a decision. A
// caution asks a named person to accept it with a reason. A note only informs.
const (
	Forbidden Severity = "forbidden"
	Caution   Severity = "caution"
	Note      Severity = "note"
)

// Rule is a rule that findings come from, as it is listed for people to read. An ID is never used
// again for another meaning.
type Rule struct {
	ID       string   // stable, like "ratio.too_many_students"
	Title    string   // a short line for a list
	Text     string   // the rule in full, in plain words
	Source   string   // where it comes from, or "our choice"
	Severity Severity // of its findings, unless a finding sets another
	// its findings disclose a person's papers or fitness; they are not for everybody
	Papers bool
}

// Amount is a limit, or what was found: always a text, and beside it the number with its unit, or
// the date, where there is one.
//
// The json tags here and below are the form in which findings are stored with what they are about.
// The contract has its own types of the same shape.
type Amount struct {
	Text  string   `json:"text"`
	Value *float64 `json:"value,omitempty"`
	Unit  string   `json:"unit,omitempty"` // a units.Unit, or what is counted, like "students"
	On    string   `json:"on,omitempty"`   // a date, as 2006-01-02
}

// Count returns the amount of n things: Count(9, "students"). Of one thing the text is "1 student";
// the unit stays in the plural.
func Count(n int, of string) *Amount {
	x, what := float64(n), of
	switch {
	case n != 1:
	case of == "people":
		what = "person"
	case len(of) > 1:
		what = strings.TrimSuffix(of, "s")
	}
	return &Amount{Text: units.Decimal(n*100).String() + " " + what, Value: &x, Unit: of}
}

// Quantity returns the amount of a reading.
func Quantity(r units.Reading) *Amount {
	x := r.Value.Float()
	return &Amount{Text: r.String(), Value: &x, Unit: string(r.Unit)}
}

// Day returns the amount of a date written as 2006-01-02.
func Day(on string) *Amount { return &Amount{Text: on, On: on} }

// Names returns names as a list in words: "Ines, Nuno and Rui".
func Names(names []string) string {
	last := len(names) - 1
	if last < 1 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}

// Words returns an amount that has only a text.
func Words(s string) *Amount { return &Amount{Text: s} }

// Cure is one thing that would make the finding go away.
type Cure struct {
	Code    string `json:"code"` // stable, like "add_assistant"
	Message string `json:"message"`
}

// Subject is a thing that a finding is about.
type Subject struct {
	Type string `json:"type"` // "person", "enrolment", "session", "group", "participant", "skill", ...
	ID   string `json:"id"`
}

// Finding is the result of one rule for its subjects.
type Finding struct {
	Rule     string         `json:"rule"`
	Severity Severity       `json:"severity"`
	Message  string         `json:"message"`          // English prose, complete in itself
	Params   map[string]any `json:"params,omitempty"` // the parts of the message by name, to translate from
	Limit    *Amount        `json:"limit,omitempty"`
	Found    *Amount        `json:"found,omitempty"`
	Cures    []Cure         `json:"cures,omitempty"`
	Subjects []Subject      `json:"subjects,omitempty"`
	Source   string         `json:"source,omitempty"`
	// "body", "query", "path", "header", "file" for breaches of the contract
	In      string `json:"in,omitempty"`
	Pointer string `json:"pointer,omitempty"` // RFC 6901, or the parameter's name
	Line    int    `json:"line,omitempty"`    // for files, from 1
	Column  int    `json:"column,omitempty"`  // for files, from 1

	// What follows is known where a decision is shown, and is not stored with what was found:
	// acceptances are stored beside the findings of their decision.

	NeedsAcceptance bool      `json:"-"` // a caution that nobody has accepted, and the decision does not stand without
	Accepted        *Accepted `json:"-"` // nil: nobody accepted it
}

// Accepted is who accepted a caution, when and why.
type Accepted struct {
	By     string // the person's id
	ByName string
	At     time.Time
	Reason string
}

// Of returns a finding of the rule with its severity and source.
func (r Rule) Of(message string, subjects ...Subject) Finding {
	return Finding{Rule: r.ID, Severity: r.Severity, Message: message, Source: r.Source, Subjects: subjects}
}

// Say returns a finding of the rule whose message is made of parts: each {name} of the template is
// replaced by the next part. The finding keeps the parts by their names, so that the message can be
// worded in another language (see Param).
func (r Rule) Say(template string, parts ...any) Finding {
	var message strings.Builder
	params := make(map[string]any, len(parts))
	for _, part := range parts {
		before, rest, _ := strings.Cut(template, "{")
		name, after, _ := strings.Cut(rest, "}")
		message.WriteString(before)
		fmt.Fprint(&message, part)
		params[name], template = Param(part), after
	}
	message.WriteString(template)
	f := r.Of(message.String())
	f.Params = params
	return f
}

// About returns the finding with its subjects set.
func (f Finding) About(subjects ...Subject) Finding {
	f.Subjects = subjects
	return f
}

// List is the findings of all rules together.
type List []Finding

// Forbids reports whether any finding forbids.
func (l List) Forbids() bool { return l.Has(Forbidden) }

// Has reports whether any finding is of that severity.
func (l List) Has(s Severity) bool {
	return slices.ContainsFunc(l, func(f Finding) bool { return f.Severity == s })
}

// Only returns the findings of that severity.
func (l List) Only(s Severity) List {
	var out List
	for _, f := range l {
		if f.Severity == s {
			out = append(out, f)
		}
	}
	return out
}

// Of returns the findings of one rule.
func (l List) Of(r Rule) List {
	var out List
	for _, f := range l {
		if f.Rule == r.ID {
			out = append(out, f)
		}
	}
	return out
}

// InSession returns the findings with a session among the subjects of each. Findings about people are
// otherwise the same for every session that they take part in.
func (l List) InSession(id string) List {
	session := Subject{Type: "session", ID: id}
	out := slices.Clone(l)
	for i, f := range out {
		if !slices.Contains(f.Subjects, session) {
			out[i].Subjects = append(slices.Clone(f.Subjects), session)
		}
	}
	return out
}

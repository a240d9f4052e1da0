package contract

import (
	"regexp"
	"strconv"
	"strings"

	"tankside/internal/finding"
)

// saying is how the validator words one sort of breach, and the rule and the message that a caller
// is answered with. The groups of the expression are the parts of the template, in their order.
type saying struct {
	its      *regexp.Regexp
	rule     finding.Rule
	template string
	as       []func(string) any // of the groups; where there is none left, asText
	more     map[string]any     // parameters that are not in the message
}

var (
	numbers = []func(string) any{asNumber, asNumber}
	among   = []func(string) any{asText, asNames}
)

// sayings are in the order in which they are tried.
var sayings = []saying{
	{its: worded(`^minimum: got (.+), want (.+)$`), rule: outOfRange, as: numbers,
		template: "{found} is too little: {limit} or more is taken.", more: bound("least")},
	{its: worded(`^maximum: got (.+), want (.+)$`), rule: outOfRange, as: numbers,
		template: "{found} is too much: at most {limit} is taken.", more: bound("most")},
	{its: worded(`^exclusiveMinimum: got (.+), want (.+)$`), rule: outOfRange, as: numbers,
		template: "{found} is too little: more than {limit} is taken.", more: bound("above")},
	{its: worded(`^exclusiveMaximum: got (.+), want (.+)$`), rule: outOfRange, as: numbers,
		template: "{found} is too much: less than {limit} is taken.", more: bound("below")},
	{its: worded(`^multipleOf: got (.+), want (.+)$`), rule: tooExact, as: numbers,
		template: "{found} is too exact: only steps of {limit} are taken."},
	{its: worded(`^minLength: got (.+), want (.+)$`), rule: wrongLength, as: numbers, more: bound("least"),
		template: "The text is too short: it has {found} characters, and at least {limit} are asked for."},
	{its: worded(`^maxLength: got (.+), want (.+)$`), rule: wrongLength, as: numbers, more: bound("most"),
		template: "The text is too long: it has {found} characters, and at most {limit} are taken."},
	{its: worded(`^minItems: got (.+), want (.+)$`), rule: wrongCount, as: numbers, more: bound("least"),
		template: "The list is too short: it has {found}, and at least {limit} are asked for."},
	{its: worded(`^maxItems: got (.+), want (.+)$`), rule: wrongCount, as: numbers, more: bound("most"),
		template: "The list is too long: it has {found}, and at most {limit} are taken."},
	{its: worded(`^minProperties: got (.+), want (.+)$`), rule: wrongCount, as: numbers, more: bound("least"),
		template: "There are too few members: {found}, and at least {limit} are asked for."},
	{its: worded(`^maxProperties: got (.+), want (.+)$`), rule: wrongCount, as: numbers, more: bound("most"),
		template: "There are too many members: {found}, and at most {limit} are taken."},
	{its: worded(`^items at (.+) and (.+) are equal$`), rule: notUnique, as: numbers,
		template: "The same is in the list twice, at {first} and {second}, counted from 0: once is enough."},
	{its: worded(`^value must be one of (.+)$`), rule: notAllowed, as: []func(string) any{asNames},
		template: "It has to be one of {allowed}."},
	{its: worded(`^(?:Value|Array item) (.+) does not match any enum values: \[(.+)\]$`), rule: notAllowed,
		as: among, template: "{found} is not known here: it has to be one of {allowed}."},
	{its: worded(`^additional propert(?:y|ies) (.+) not allowed$`), rule: unknownMember,
		template: "There is no member {member} here. Leave it out, or correct its name."},
	{its: worded(`^missing propert(?:y|ies) (.+)$`), rule: required, template: "This is missing: {member}."},
	{its: worded(`^got (.+), want (.+)$`), rule: wrongType, as: []func(string) any{asType, asType},
		template: "It is {found}, and has to be {allowed}."},
	{its: worded(`^'\s*' does not match pattern '\\\\S'$`), rule: wrongPattern,
		template: "It is empty. Write something.", more: map[string]any{"pattern": `\S`}},
	{its: worded(`^(.+) does not match pattern '\^\\\\d\{4\}-\\\\d\{2\}-\\\\d\{2\}T\\\\d\{2\}:\\\\d\{2\}\$'$`),
		rule: wrongPattern, more: map[string]any{"pattern": `^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$`},
		template: "{found} is no local time: write it like 2027-06-05T09:00."},
	{its: worded(`^(.+) does not match pattern (.+)$`), rule: wrongPattern,
		template: "{found} is not written as it has to be, by the pattern {pattern}."},
	{its: worded(`^'not' failed$`), rule: reservedID, // only ids have a "not"
		template: `An id of all zeros or all ones means "none". Choose another.`},
	{its: worded(`^(.+) is not valid uuid: .+$`), rule: wrongFormat, more: format("uuid"),
		template: "{found} is no id: an id is a UUID, like 0198f3c0-0000-7000-8000-000000000001."},
	{its: worded(`^(.+) is not valid date: .+$`), rule: wrongFormat, more: format("date"),
		template: "{found} is no day of the calendar: write it like 2027-06-05."},
	{its: worded(`^(.+) is not valid date-time: .+$`), rule: wrongFormat, more: format("date-time"),
		template: "{found} is no instant: write it like 2027-06-05T09:00:00Z."},
	{its: worded(`^(.+) is not valid (.+?): .+$`), rule: wrongFormat,
		template: "{found} is no valid {format}."},
	{its: worded(`^Value (.+) is not a valid (.+)$`), rule: wrongType, template: "{found} is no {allowed}."},
}

func worded(expression string) *regexp.Regexp { return regexp.MustCompile(expression) }

// bound names which bound a limit is.
func bound(which string) map[string]any { return map[string]any{"bound": which} }

func format(name string) map[string]any { return map[string]any{"format": name} }

// breached returns the finding for what the validator found, in plain words: what is wrong, and what
// is taken instead. A breach for which there are no words is an invalid value, and its message what
// the validator wrote, as a sentence.
func breached(reason string) finding.Finding {
	for _, s := range sayings {
		m := s.its.FindStringSubmatch(reason)
		if m == nil {
			continue
		}
		var parts []any
		for i, group := range m[1:] {
			as := asText
			if i < len(s.as) {
				as = s.as[i]
			}
			parts = append(parts, as(group))
		}
		f := s.rule.Say(s.template, parts...)
		for name, value := range s.more {
			f.Params[name] = value
		}
		return f
	}
	return InvalidValue.Say("{because}", finding.Sentence(reason))
}

// quotation is a text as the validator quotes it; the parameter is what it quotes.
type quotation string

func asText(s string) any { return quotation(s) }

func (q quotation) Param() any {
	if m := quoted.FindStringSubmatch(string(q)); m != nil && m[0] == string(q) {
		return strings.ReplaceAll(m[1], `\'`, `'`)
	}
	return string(q)
}

// figure is a number as the validator writes it: 10,000.
type figure string

func asNumber(s string) any { return figure(s) }

func (n figure) Param() any {
	x, err := strconv.ParseFloat(strings.ReplaceAll(string(n), ",", ""), 64)
	if err != nil {
		return string(n)
	}
	return x
}

// choice is a list of values as the validator writes it: 'm', 'ft'.
type choice string

func asNames(s string) any { return choice(s) }

func (c choice) Param() any {
	out := []any{}
	for one := range strings.SplitSeq(string(c), ", ") {
		out = append(out, quotation(one).Param())
	}
	return out
}

// jsonType is the types that something has or may have: string or null.
type jsonType string

func asType(s string) any { return jsonType(s) }

// String returns the types in plain words.
func (t jsonType) String() string { return typeWords.Replace(string(t)) }

func (t jsonType) Param() any { return string(t) }

var typeWords = strings.NewReplacer("string", "a text", "object", "an object with members", "array", "a list",
	"integer", "a whole number", "number", "a number", "boolean", "true or false")

// Template is a template of a rule's messages, with its parameters in the order in which it names them.
type Template struct {
	Text   string
	Params []TemplateParam
}

// TemplateParam is a part of a template: its name, and the type of its value (text, number or list).
type TemplateParam struct{ Name, Type string }

// Templates returns the templates of a rule's messages about what the validator found.
func Templates(rule string) (out []Template) {
	for _, s := range sayings {
		if s.rule.ID == rule {
			out = append(out, s.templateOf())
		}
	}
	return out
}

var placeholder = regexp.MustCompile(`\{([a-z_]+)\}`)

func (s saying) templateOf() Template {
	t := Template{Text: s.template}
	for i, found := range placeholder.FindAllStringSubmatch(s.template, -1) {
		p := TemplateParam{found[1], "text"}
		if i < len(s.as) {
			switch s.as[i]("").(type) {
			case figure:
				p.Type = "number"
			case choice:
				p.Type = "list"
			}
		}
		t.Params = append(t.Params, p)
	}
	return t
}

package httpapi

import (
	"regexp"
	"strings"

	"tankside/internal/finding"
)

// saying is how the validator says one thing, and how a person is told it.
type saying struct {
	its  *regexp.Regexp
	ours string
}

// sayings are in the order in which they are tried.
var sayings = []saying{
	{regexp.MustCompile(`^minimum: got (.+), want (.+)$`), "$1 is too little: $2 or more is taken."},
	{regexp.MustCompile(`^maximum: got (.+), want (.+)$`), "$1 is too much: at most $2 is taken."},
	{regexp.MustCompile(`^exclusiveMinimum: got (.+), want (.+)$`), "$1 is too little: more than $2 is taken."},
	{regexp.MustCompile(`^exclusiveMaximum: got (.+), want (.+)$`), "$1 is too much: less than $2 is taken."},
	{regexp.MustCompile(`^multipleOf: got (.+), want (.+)$`), "$1 is too exact: only steps of $2 are taken."},
	{regexp.MustCompile(`^minLength: got (.+), want (.+)$`), "The text is too short: it has $1 characters, and at least $2 are asked for."},
	{regexp.MustCompile(`^maxLength: got (.+), want (.+)$`), "The text is too long: it has $1 characters, and at most $2 are taken."},
	{regexp.MustCompile(`^minItems: got (.+), want (.+)$`), "The list is too short: it has $1, and at least $2 are asked for."},
	{regexp.MustCompile(`^maxItems: got (.+), want (.+)$`), "The list is too long: it has $1, and at most $2 are taken."},
	{regexp.MustCompile(`^minProperties: got (.+), want (.+)$`), "There are too few members: $1, and at least $2 are asked for."},
	{regexp.MustCompile(`^maxProperties: got (.+), want (.+)$`), "There are too many members: $1, and at most $2 are taken."},
	{regexp.MustCompile(`^items at (.+) and (.+) are equal$`), "The same is in the list twice, at $1 and $2, counted from 0: once is enough."},
	{regexp.MustCompile(`^value must be one of (.+)$`), "It has to be one of $1."},
	{regexp.MustCompile(`^Value (.+) does not match any enum values: \[(.+)\]$`), "$1 is not known here: it has to be one of $2."},
	{regexp.MustCompile(`^Array item (.+) does not match any enum values: \[(.+)\]$`), "$1 is not known here: it has to be one of $2."},
	{regexp.MustCompile(`^additional propert(?:y|ies) (.+) not allowed$`), "There is no member $1 here. Leave it out, or correct its name."},
	{regexp.MustCompile(`^missing propert(?:y|ies) (.+)$`), "This is missing: $1."},
	{regexp.MustCompile(`^got (.+), want (.+)$`), "It is $1, and has to be $2."},
	{regexp.MustCompile(`^'\s*' does not match pattern '\\\\S'$`), "It is empty. Write something."},
	{regexp.MustCompile(`^(.+) does not match pattern '\^\\\\d\{4\}-\\\\d\{2\}-\\\\d\{2\}T\\\\d\{2\}:\\\\d\{2\}\$'$`), "$1 is no local time: write it like 2027-06-05T09:00."},
	{regexp.MustCompile(`^(.+) does not match pattern (.+)$`), "$1 is not written as it has to be, by the pattern $2."},
	{regexp.MustCompile(`^'not' failed$`), "An id of all zeros or all ones means \"none\". Choose another."}, // only ids have a "not"
	{regexp.MustCompile(`^(.+) is not valid uuid: .+$`), "$1 is no id: an id is a UUID, like 0198f3c0-0000-7000-8000-000000000001."},
	{regexp.MustCompile(`^(.+) is not valid date: .+$`), "$1 is no day of the calendar: write it like 2027-06-05."},
	{regexp.MustCompile(`^(.+) is not valid date-time: .+$`), "$1 is no instant: write it like 2027-06-05T09:00:00Z."},
	{regexp.MustCompile(`^(.+) is not valid (.+?): .+$`), "$1 is no valid $2."},
	{regexp.MustCompile(`^Value (.+) is not a valid (.+)$`), "$1 is no $2."},
}

// sorts are the sorts of values in plain words.
var sorts = strings.NewReplacer("string", "a text", "object", "an object with members", "array", "a list", "integer", "a whole number", "number", "a number", "boolean", "true or false")

// plain says in plain words what the validator found: what is wrong, and what is
// taken instead. What it has no words for stays as it is, as a sentence.
func plain(reason string) string {
	for _, s := range sayings {
		m := s.its.FindStringSubmatchIndex(reason)
		if m == nil {
			continue
		}
		if strings.HasPrefix(reason, "got ") {
			reason = "got " + sorts.Replace(reason[len("got "):])
			m = s.its.FindStringSubmatchIndex(reason)
		}
		return string(s.its.ExpandString(nil, s.ours, reason, m))
	}
	return finding.Sentence(reason)
}

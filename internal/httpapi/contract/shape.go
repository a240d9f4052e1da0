package contract

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// shape is a schema of the contract in the form in which a body is measured
// with it: one value at a time, until enough is found. The validator, which
// says everything at once, sees only what is known to have little wrong with it.
type shape struct {
	types        []string // none: any
	members      map[string]*shape
	extra        *shape // of members that are not listed; nil: none where closed, else any
	closed       bool
	needed       []string
	items        *shape
	least, most  *int64 // characters, items or members, by what the value is
	unique       bool
	lower, above *json.Number // minimum, exclusiveMinimum
	upper        *json.Number
	step         *json.Number
	values       []string // enum and const, as JSON
	never        []string // not: enum, as JSON
	pattern      *regexp.Regexp
	format       string
	either       []*shape // exactly one of them
}

// silent are keywords that take nothing from what a value may be.
var silent = []string{"description", "title", "default", "example", "examples", "deprecated", "readOnly",
	"writeOnly"}

// shapes reads schemas of the document, each that has a name once.
type shapes struct {
	document map[string]any
	named    map[string]*shape
	passed   []string // keywords that nothing is measured by; a test wants none
}

func newShapes(document *yaml.Node) (*shapes, error) {
	s := &shapes{named: map[string]*shape{}}
	return s, document.Decode(&s.document)
}

// body returns the shape of an operation's body in a media type.
func (r *shapes) body(path, method, media string) (*shape, error) {
	at := any(r.document)
	for _, step := range []string{"paths", path, strings.ToLower(method), "requestBody", "content", media,
		"schema"} {
		m, ok := r.resolved(at).(map[string]any)
		if !ok {
			return nil, fmt.Errorf("no %s", step)
		}
		at = m[step]
	}
	return r.shape(at)
}

// resolved follows a reference within the document.
func (r *shapes) resolved(at any) any {
	m, _ := at.(map[string]any)
	ref, ok := m["$ref"].(string)
	if !ok {
		return at
	}
	to := any(r.document)
	for step := range strings.SplitSeq(strings.TrimPrefix(ref, "#/"), "/") {
		m, _ := to.(map[string]any)
		to = m[step]
	}
	return to
}

func (r *shapes) shape(at any) (*shape, error) {
	m, ok := at.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("%v is no schema", at)
	}
	if one, ok := m["allOf"].([]any); ok && len(one) == 1 && onlySilent(m) {
		return r.shape(one[0]) // a reference with a description of its own
	}
	ref, ok := m["$ref"].(string)
	if !ok {
		s := &shape{}
		return s, r.read(m, s)
	}
	if s := r.named[ref]; s != nil {
		return s, nil
	}
	if len(m) > 1 && !onlySilent(m) {
		r.passed = append(r.passed, "beside "+ref)
	}
	target, ok := r.resolved(at).(map[string]any)
	if !ok {
		return nil, fmt.Errorf("%s is not there", ref)
	}
	s := &shape{}
	r.named[ref] = s // first, since it may refer to itself
	return s, r.read(target, s)
}

func onlySilent(m map[string]any) bool {
	for k := range m {
		if k != "$ref" && k != "allOf" && !slices.Contains(silent, k) && !strings.HasPrefix(k, "x-") {
			return false
		}
	}
	return true
}

// read reads a schema into a shape. A keyword that it does not know is passed
// over and left to the validator.
func (r *shapes) read(m map[string]any, s *shape) error {
	for keyword, v := range m {
		if err := r.keyword(s, keyword, v); err != nil {
			return fmt.Errorf("%s: %w", keyword, err)
		}
	}
	return nil
}

func (r *shapes) keyword(s *shape, keyword string, v any) (err error) {
	switch keyword {
	case "type":
		s.types = wordsOf(v)
	case "required":
		s.needed = wordsOf(v)
	case "properties":
		s.members = map[string]*shape{}
		for name, member := range v.(map[string]any) {
			if s.members[name], err = r.shape(member); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
	case "additionalProperties":
		if open, ok := v.(bool); ok {
			s.closed = !open
			return nil
		}
		s.extra, err = r.shape(v)
	case "items":
		s.items, err = r.shape(v)
	case "oneOf":
		for _, one := range v.([]any) {
			alternative, err := r.shape(one)
			if err != nil {
				return err
			}
			s.either = append(s.either, alternative)
		}
	case "anyOf":
		for _, one := range v.([]any) {
			if m, ok := one.(map[string]any); ok && m["$ref"] == nil && onlySilent(m) {
				return nil // anything will do
			}
		}
		r.passed = append(r.passed, keyword)
	case "not":
		m, _ := v.(map[string]any)
		if s.never = listed(m["enum"]); len(m) != 1 || m["enum"] == nil {
			s.never, r.passed = nil, append(r.passed, keyword)
		}
	case "enum", "const":
		s.values = listed(v)
	case "uniqueItems":
		s.unique = v == true
	case "format":
		s.format = v.(string)
	case "pattern":
		s.pattern, err = regexp.Compile(v.(string))
	default:
		if !s.bound(keyword, v) {
			r.passed = append(r.passed, keyword)
		}
	}
	return err
}

// bound reads a keyword that has a number, and reports whether it knows it.
func (s *shape) bound(keyword string, v any) bool {
	count := func() *int64 { return new(int64(v.(int))) }
	number := func() *json.Number { return new(json.Number(fmt.Sprint(v))) }
	switch keyword {
	case "minLength", "minItems", "minProperties":
		s.least = count()
	case "maxLength", "maxItems", "maxProperties":
		s.most = count()
	case "minimum":
		s.lower = number()
	case "exclusiveMinimum":
		s.above = number()
	case "maximum":
		s.upper = number()
	case "multipleOf":
		s.step = number()
	default:
		return slices.Contains(silent, keyword) || strings.HasPrefix(keyword, "x-")
	}
	return true
}

func wordsOf(v any) (out []string) {
	if one, ok := v.(string); ok {
		return []string{one}
	}
	for _, x := range v.([]any) {
		out = append(out, x.(string))
	}
	return out
}

// listed writes the values that are taken as JSON.
func listed(v any) (out []string) {
	all, ok := v.([]any)
	if !ok {
		all = []any{v}
	}
	for _, x := range all {
		text, _ := json.Marshal(x) // out of a document, so it can be written
		out = append(out, string(text))
	}
	return out
}

// as returns the shape that a value of a kind has to have: of alternatives, the
// one that takes this kind. It returns nil for a kind that is not taken.
func (s *shape) as(kind string) *shape {
	if s == nil {
		return nil
	}
	for _, one := range s.either {
		if fits := one.as(kind); fits != nil {
			return fits
		}
	}
	if len(s.either) > 0 || len(s.types) > 0 && !slices.Contains(s.types, kind) &&
		(kind != "integer" || !slices.Contains(s.types, "number")) {
		return nil
	}
	return s
}

// member returns the shape of a member, nil where anything may stand or nothing.
func (s *shape) member(name string) *shape {
	if s == nil {
		return nil
	}
	if m := s.members[name]; m != nil {
		return m
	}
	return s.extra
}

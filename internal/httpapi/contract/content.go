package contract

import (
	"encoding/json"
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"tankside/internal/finding"
)

// inContent finds what a body says that the contract does not take, up to one
// more than is told. The body is well-formed and of a size that can be read.
func inContent(body []byte, of *shape) finding.List {
	var v any
	d := json.NewDecoder(strings.NewReader(string(body)))
	d.UseNumber()
	if d.Decode(&v) != nil {
		return nil // the validator says it
	}
	c := &contents{most: MostBreaches + 1}
	c.value(of, v)
	return c.found
}

// contents goes through a decoded body.
type contents struct {
	path  []string
	found finding.List
	most  int
}

func (c *contents) full() bool { return len(c.found) >= c.most }

// say notes a breach in the validator's words, which breached translates.
func (c *contents) say(format string, args ...any) {
	c.note(c.path, fmt.Sprintf(format, args...))
}

func (c *contents) note(path []string, reason string) {
	if c.full() {
		return
	}
	f := breached(Clip(reason, LongestMessage))
	f.In, f.Pointer = "body", pointer(path)
	c.found = append(c.found, f)
}

// within looks at a part of the value.
func (c *contents) within(step string, s *shape, v any) {
	c.path = append(c.path, step)
	c.value(s, v)
	c.path = c.path[:len(c.path)-1]
}

func (c *contents) value(s *shape, v any) {
	if s == nil || c.full() {
		return
	}
	kind := kindOf(v)
	if len(s.either) > 0 {
		c.alternatives(s, kind, v)
		return
	}
	if s.as(kind) == nil {
		c.say("got %s, want %s", strings.Replace(kind, "integer", "number", 1), strings.Join(s.types, " or "))
		return
	}
	if len(s.values) > 0 && !slices.Contains(s.values, asJSON(v)) {
		c.say("value must be one of %s", strings.ReplaceAll(strings.Join(s.values, ", "), `"`, "'"))
	}
	if slices.Contains(s.never, asJSON(v)) {
		c.say("'not' failed")
	}
	switch x := v.(type) {
	case map[string]any:
		c.object(s, x)
	case []any:
		c.list(s, x)
	case string:
		c.text(s, x)
	case json.Number:
		c.number(s, x)
	}
}

// alternatives holds a value against the one of several shapes that takes its
// kind; where several do, exactly one has to fit.
func (c *contents) alternatives(s *shape, kind string, v any) {
	var open []*shape
	fits := 0
	for _, one := range s.either {
		if one.as(kind) == nil {
			continue
		}
		open = append(open, one)
		try := contents{most: 1}
		if try.value(one, v); len(try.found) == 0 {
			fits++
		}
	}
	switch {
	case len(open) == 1:
		c.value(open[0], v)
	case fits != 1:
		c.say("It fits %d of %d forms that are taken here, and has to fit one.", fits, len(s.either))
	}
}

func (c *contents) object(s *shape, members map[string]any) {
	c.amount(s, "Properties", len(members))
	for _, name := range s.needed {
		if _, ok := members[name]; !ok {
			c.note(append(slices.Clone(c.path), name), "missing property '"+name+"'")
		}
	}
	for name, v := range members {
		of, known := s.members[name]
		switch {
		case known:
			c.within(name, of, v)
		case s.extra != nil:
			c.within(name, s.extra, v)
		case s.closed:
			c.note(append(slices.Clone(c.path), name),
				"additional property '"+Clip(name, LongestPointer)+"' not allowed")
		}
		if c.full() {
			return
		}
	}
}

func (c *contents) list(s *shape, items []any) {
	c.amount(s, "Items", len(items))
	seen := map[string]int{}
	for i, v := range items {
		if c.full() {
			return
		}
		if s.unique {
			text := asJSON(v)
			if first, twice := seen[text]; twice {
				c.say("items at %d and %d are equal", first, i)
			}
			seen[text] = i
		}
		c.within(strconv.Itoa(i), s.items, v)
	}
}

// amount holds how many there are against the bounds.
func (c *contents) amount(s *shape, of string, n int) {
	if s.least != nil && int64(n) < *s.least {
		c.say("min%s: got %d, want %d", of, n, *s.least)
	}
	if s.most != nil && int64(n) > *s.most {
		c.say("max%s: got %d, want %d", of, n, *s.most)
	}
}

func (c *contents) text(s *shape, v string) {
	c.amount(s, "Length", utf8.RuneCountInString(v))
	if s.pattern != nil && !s.pattern.MatchString(v) {
		c.say("'%s' does not match pattern '%s'", Clip(v, LongestPointer), s.pattern)
	}
	if ok, known := formed(s.format, v); known && !ok {
		c.say("'%s' is not valid %s: as it is written", Clip(v, LongestPointer), s.format)
	}
}

// instant is RFC 3339, section 5.6.
var instant = regexp.MustCompile(`^\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)$`)

// formed reports whether a text has a format, and whether the format is known.
// It takes more than the validator does rather than less.
func formed(format, v string) (ok, known bool) {
	switch format {
	case "uuid":
		return len(v) == 36 && uuid.Validate(v) == nil, true
	case "date":
		_, err := time.Parse(time.DateOnly, v)
		return err == nil, true
	case "date-time":
		return instant.MatchString(v), true
	}
	return false, false
}

func (c *contents) number(s *shape, v json.Number) {
	x, ok := new(big.Rat).SetString(string(v))
	if !ok {
		return
	}
	against := func(bound *json.Number, wrong func(compared int) bool, keyword string) {
		if bound == nil {
			return
		}
		if limit, ok := new(big.Rat).SetString(string(*bound)); ok && wrong(x.Cmp(limit)) {
			c.say("%s: got %s, want %s", keyword, v, *bound)
		}
	}
	against(s.lower, func(n int) bool { return n < 0 }, "minimum")
	against(s.above, func(n int) bool { return n <= 0 }, "exclusiveMinimum")
	against(s.upper, func(n int) bool { return n > 0 }, "maximum")
	if s.step == nil {
		return
	}
	if step, ok := new(big.Rat).SetString(string(*s.step)); ok && !new(big.Rat).Quo(x, step).IsInt() {
		c.say("multipleOf: got %s, want %s", v, *s.step)
	}
}

// kindOf names what a decoded value is, as schemas do.
func kindOf(v any) string {
	switch x := v.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case string:
		return "string"
	case []any:
		return "array"
	case map[string]any:
		return "object"
	case json.Number:
		if r, ok := new(big.Rat).SetString(string(x)); ok && r.IsInt() {
			return "integer"
		}
	}
	return "number"
}

func asJSON(v any) string {
	if x, ok := v.(json.Number); ok {
		if r, ok := new(big.Rat).SetString(string(x)); ok {
			return r.RatString()
		}
	}
	text, _ := json.Marshal(v) // it was JSON
	return string(text)
}

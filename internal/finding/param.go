package finding

import (
	"fmt"
	"maps"
	"reflect"
	"time"

	"tankside/internal/units"
)

// Typed is a part of a message that has a form of its own among the parameters. Its text, for the
// English message, is that of fmt.
type Typed interface {
	Param() any // as encoding/json reads it into an any
}

// Param returns a part of a message as the parameters keep it, in the form in which JSON brings it
// back from the database: a number for a count, {value, unit} for a quantity and for a duration (in
// seconds), an instant in UTC for a Moment, {type, id, name} for a Named, a list for several of
// these, and the text of everything else.
func Param(part any) any {
	switch p := part.(type) {
	case Typed:
		return p.Param()
	case units.Reading:
		return quantity(p.Value.Float(), string(p.Unit))
	case *units.Reading:
		return quantity(p.Value.Float(), string(p.Unit))
	case interface{ Reading() units.Reading }:
		return Param(p.Reading())
	case time.Duration:
		return quantity(p.Seconds(), string(units.UnitSecond))
	case fmt.Stringer:
		return p.String()
	}
	switch v := reflect.ValueOf(part); {
	case v.CanInt():
		return float64(v.Int())
	case v.CanFloat():
		return v.Float()
	case v.Kind() == reflect.Bool:
		return v.Bool()
	}
	return fmt.Sprint(part)
}

func quantity(value float64, unit string) map[string]any {
	return map[string]any{"value": value, "unit": unit}
}

// Param returns the moment as an instant.
func (m Moment) Param() any { return m.Instant() }

// String returns the amount's text.
func (a Amount) String() string { return a.Text }

// Param returns the amount as {value, unit}, a date as it is written, and one without either as its text.
func (a Amount) Param() any {
	switch {
	case a.Value != nil:
		return quantity(*a.Value, a.Unit)
	case a.On != "":
		return a.On
	}
	return a.Text
}

// With returns the finding with a further parameter, which is not in its message.
func (f Finding) With(name string, value any) Finding {
	f.Params = maps.Clone(f.Params)
	if f.Params == nil {
		f.Params = map[string]any{}
	}
	f.Params[name] = Param(value)
	return f
}

// NameOf returns the name of a thing among the parameters of a message, "" where it is none.
func NameOf(param any) string {
	if text, ok := param.(string); ok {
		return text // of a finding that was stored before names were kept with their ids
	}
	thing, _ := param.(map[string]any)
	name, _ := thing["name"].(string)
	return name
}

// Span is how long something lasts. Its text is in words, as of Lasting.
type Span time.Duration

// String returns the span in words: "3 h 20 min".
func (s Span) String() string { return Lasting(time.Duration(s)) }

// Param returns the span as a quantity in seconds, without a sign.
func (s Span) Param() any {
	return quantity(time.Duration(s).Abs().Seconds(), string(units.UnitSecond))
}

// Amount returns the span in words, and its seconds.
func (s Span) Amount() *Amount {
	seconds := time.Duration(s).Abs().Seconds()
	return &Amount{Text: s.String(), Value: &seconds, Unit: string(units.UnitSecond)}
}

// Named is a thing that a message calls by its name.
type Named struct {
	Type string // "person", "session", "enrolment", ...
	ID   string
	Name string
}

// Person returns a person whom a message calls by name.
func Person(id fmt.Stringer, name string) Named {
	return Named{Type: "person", ID: id.String(), Name: name}
}

// Session returns a session that a message calls by its title.
func Session(id, title string) Named { return Named{Type: "session", ID: id, Name: title} }

// String returns the name.
func (n Named) String() string { return n.Name }

// Param returns the thing as {type, id, name}.
func (n Named) Param() any { return map[string]any{"type": n.Type, "id": n.ID, "name": n.Name} }

// Subject returns the thing as a subject of a finding.
func (n Named) Subject() Subject { return Subject{Type: n.Type, ID: n.ID} }

// Several is a list of things that a message calls by their names.
type Several []Named

// String returns the names in words: "Ines, Nuno and Rui".
func (l Several) String() string {
	var names []string
	for _, n := range l {
		names = append(names, n.Name)
	}
	return Names(names)
}

// Param returns the list of things, each as {type, id, name}.
func (l Several) Param() any {
	out := make([]any, 0, len(l))
	for _, n := range l {
		out = append(out, n.Param())
	}
	return out
}

// Package form writes what the rules say in the types of the contract, and reads
// quantities from them: one conversion for the API and for commands that answer
// in the contract's own schemas.
//
// It owns nothing but the spelling. It must not know an operation, a service or
// what a finding means.
package form

import (
	"time"

	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/units"
)

// OrNull writes what may be unknown: nil is null, never absent.
func OrNull[T any](v *T) nullable.Nullable[T] {
	if v == nil {
		return nullable.NewNullNullable[T]()
	}
	return nullable.NewNullableWithValue(*v)
}

// UnlessEmpty is OrNull for what Go writes as its zero value.
func UnlessEmpty[T comparable](v T) nullable.Nullable[T] {
	var zero T
	if v == zero {
		return nullable.NewNullNullable[T]()
	}
	return nullable.NewNullableWithValue(v)
}

// Each maps a list; it is never null.
func Each[T, V any](items []T, view func(T) V) []V {
	out := make([]V, 0, len(items))
	for _, item := range items {
		out = append(out, view(item))
	}
	return out
}

// Reading reads a quantity; the contract has checked its unit.
func Reading(q api.Quantity) units.Reading { return units.Read(q.Value, units.Unit(q.Unit)) }

// Quantity writes a reading as it was read.
func Quantity(r units.Reading) api.Quantity {
	return api.Quantity{Value: r.Value.Float(), Unit: string(r.Unit)}
}

// OptionalQuantity writes a reading that may be unknown.
func OptionalQuantity(r *units.Reading) nullable.Nullable[api.Quantity] {
	if r == nil || r.IsZero() {
		return nullable.NewNullNullable[api.Quantity]()
	}
	return nullable.NewNullableWithValue(Quantity(*r))
}

// Findings writes a list of findings; it is never null.
func Findings(l finding.List) []api.Finding { return Each(l, Finding) }

// Finding writes one finding.
func Finding(f finding.Finding) api.Finding {
	params := f.Params
	if params == nil {
		params = map[string]any{}
	}
	return api.Finding{
		Rule:     f.Rule,
		Severity: string(f.Severity),
		Message:  f.Message,
		Params:   params,
		Limit:    amount(f.Limit),
		Found:    amount(f.Found),
		Cures:    Each(f.Cures, func(c finding.Cure) api.Cure { return api.Cure{Code: c.Code, Message: c.Message} }),
		Subjects: Each(f.Subjects, func(s finding.Subject) api.Subject { return api.Subject{Type: s.Type, ID: s.ID} }),
		In:       UnlessEmpty(f.In),
		Pointer:  UnlessEmpty(f.Pointer),
		Line:     UnlessEmpty(f.Line),
		Column:   UnlessEmpty(f.Column),
		Source:   UnlessEmpty(f.Source),
	}
}

func amount(a *finding.Amount) nullable.Nullable[api.Amount] {
	if a == nil {
		return nullable.NewNullNullable[api.Amount]()
	}
	return nullable.NewNullableWithValue(api.Amount{
		Text:  a.Text,
		Value: OrNull(a.Value),
		Unit:  UnlessEmpty(a.Unit),
		On:    DateOf(a.On),
	})
}

// DateOf writes a day that is given as text, null where it is none.
func DateOf(on string) nullable.Nullable[openapi_types.Date] {
	t, err := time.Parse(time.DateOnly, on)
	if err != nil {
		return nullable.NewNullNullable[openapi_types.Date]()
	}
	return nullable.NewNullableWithValue(openapi_types.Date{Time: t})
}

// Given reads an optional member with what it means when absent.
func Given[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

// Package form converts findings and quantities to the types of the contract, and quantities from
// them: one conversion for the API and for commands that answer in the contract's own schemas.
//
// It owns the conversion alone. It must not know an operation, a service or what a finding means.
package form

import (
	"time"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/units"
)

// OrNull returns a value that may be unknown: nil is null, never absent.
func OrNull[T any](v *T) nullable.Nullable[T] {
	if v == nil {
		return nullable.NewNullNullable[T]()
	}
	return nullable.NewNullableWithValue(*v)
}

// UnlessEmpty returns a value, null for the zero value.
func UnlessEmpty[T comparable](v T) nullable.Nullable[T] {
	var zero T
	if v == zero {
		return nullable.NewNullNullable[T]()
	}
	return nullable.NewNullableWithValue(v)
}

// Each returns a list with view applied to each item; it is never null.
func Each[T, V any](items []T, view func(T) V) []V {
	out := make([]V, 0, len(items))
	for _, item := range items {
		out = append(out, view(item))
	}
	return out
}

// Reading reads a quantity; the contract has checked its unit.
func Reading(q api.Quantity) units.Reading { return units.Read(q.Value, units.Unit(q.Unit)) }

// Quantity returns a reading as it was read.
func Quantity(r units.Reading) api.Quantity {
	return api.Quantity{Value: r.Value.Float(), Unit: string(r.Unit)}
}

// OptionalQuantity returns a reading that may be unknown, null for nil.
func OptionalQuantity(r *units.Reading) nullable.Nullable[api.Quantity] {
	if r == nil || r.IsZero() {
		return nullable.NewNullNullable[api.Quantity]()
	}
	return nullable.NewNullableWithValue(Quantity(*r))
}

// Findings returns a list of findings; it is never null.
func Findings(l finding.List) []api.Finding { return Each(l, Finding) }

// Finding returns one finding.
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
		Cures: Each(f.Cures,
			func(c finding.Cure) api.Cure { return api.Cure{Code: c.Code, Message: c.Message} }),
		Subjects: Each(f.Subjects,
			func(s finding.Subject) api.Subject { return api.Subject{Type: s.Type, ID: s.ID} }),
		In:      UnlessEmpty(f.In),
		Pointer: UnlessEmpty(f.Pointer),
		Line:    UnlessEmpty(f.Line),
		Column:  UnlessEmpty(f.Column),
		Source:  UnlessEmpty(f.Source),

		NeedsAcceptance: f.NeedsAcceptance,
		Accepted:        acceptance(f.Accepted),
	}
}

func acceptance(a *finding.Accepted) nullable.Nullable[api.AcceptedBy] {
	if a == nil {
		return nullable.NewNullNullable[api.AcceptedBy]()
	}
	return nullable.NewNullableWithValue(api.AcceptedBy{
		By:     uuid.MustParse(a.By),
		ByName: a.ByName,
		At:     a.At.UTC(),
		Reason: a.Reason,
	})
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

// DateOf returns a day written as 2006-01-02, null for one that is not a date.
func DateOf(on string) nullable.Nullable[openapi_types.Date] {
	t, err := time.Parse(time.DateOnly, on)
	if err != nil {
		return nullable.NewNullNullable[openapi_types.Date]()
	}
	return nullable.NewNullableWithValue(openapi_types.Date{Time: t})
}

// Given returns an optional member, or otherwise where it is absent.
func Given[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

package httpapi

import (
	"time"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/form"
	"tankside/internal/units"
)

// orNull writes what may be unknown: nil is null, never absent.
func orNull[T any](v *T) nullable.Nullable[T] { return form.OrNull(v) }

// unlessEmpty is orNull for what Go writes as its zero value.
func unlessEmpty[T comparable](v T) nullable.Nullable[T] { return form.UnlessEmpty(v) }

// optional reads a member that may be absent or null: nil for both.
func optional[T any](v nullable.Nullable[T]) *T {
	if !v.IsSpecified() || v.IsNull() {
		return nil
	}
	x := v.MustGet()
	return &x
}

// given reads an optional member with what it means when absent.
func given[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

// patch sets *field when the merge-patch has the member.
func patch[T any](field *T, v *T) {
	if v != nil {
		*field = *v
	}
}

// patchNull sets *field when the merge-patch has the member, to nil for null.
func patchNull[T any](field **T, v nullable.Nullable[T]) {
	if v.IsSpecified() {
		*field = optional(v)
	}
}

// each maps a list; it is never null.
func each[T, V any](items []T, view func(T) V) []V { return form.Each(items, view) }

// texts maps a list of strings of some type; it is never null.
func texts[T ~string](items []T) []string {
	return each(items, func(t T) string { return string(t) })
}

// reading reads a quantity; the contract has checked its unit.
func reading(q api.Quantity) units.Reading { return form.Reading(q) }

// optionalReading reads a quantity that may be absent.
func optionalReading(q *api.Quantity) *units.Reading {
	if q == nil {
		return nil
	}
	r := reading(*q)
	return &r
}

// quantity writes a reading as it was read.
func quantity(r units.Reading) api.Quantity { return form.Quantity(r) }

// optionalQuantity writes a reading that may be unknown.
func optionalQuantity(r *units.Reading) nullable.Nullable[api.Quantity] {
	return form.OptionalQuantity(r)
}

// utc writes an instant that may be unknown.
func utc(t *time.Time) nullable.Nullable[time.Time] {
	if t == nil {
		return nullable.NewNullNullable[time.Time]()
	}
	return nullable.NewNullableWithValue(t.UTC())
}

// findings writes a list of findings; it is never null.
func findings(l finding.List) []api.Finding { return form.Findings(l) }

// findingsIn writes findings about a session, which names it among the subjects of each.
func findingsIn(session uuid.UUID, l finding.List) []api.Finding {
	return form.Findings(l.InSession(session.String()))
}

// date writes a day.
func date(t time.Time) openapi_types.Date { return openapi_types.Date{Time: t} }

// optionalDate writes a day that may be unknown.
func optionalDate(t *time.Time) *openapi_types.Date {
	if t == nil {
		return nil
	}
	return new(date(*t))
}

// optionalDay reads a day that may be absent or null.
func optionalDay(d nullable.Nullable[openapi_types.Date]) *time.Time {
	if day := optional(d); day != nil {
		return &day.Time
	}
	return nil
}

// optionalText reads a text in which nothing and "" mean the same.
func optionalText(v nullable.Nullable[string]) string { return given(optional(v), "") }

// queryDay reads a day of a query that may be absent.
func queryDay(d *openapi_types.Date) *time.Time {
	if d == nil {
		return nil
	}
	return &d.Time
}

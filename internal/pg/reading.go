package pg

import "tankside/internal/units"

// Reading returns the reading in two columns, nil when they are null.
func Reading(value *float64, unit *string) *units.Reading {
	if value == nil || unit == nil {
		return nil
	}
	r := units.Read(*value, units.Unit(*unit))
	return &r
}

// Columns returns the two columns of a reading, both null for nil.
func Columns(r *units.Reading) (value *float64, unit *string) {
	if r == nil {
		return nil, nil
	}
	x, u := r.Value.Float(), string(r.Unit)
	return &x, &u
}

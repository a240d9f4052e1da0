package pg

import "tankside/internal/units"

// Reading makes a reading of the two columns that hold one, nil when they are
// null.
func Reading(value *float64, unit *string) *units.Reading {
	if value == nil || unit == nil {
		return nil
	}
	r := units.Read(*value, units.Unit(*unit))
	return &r
}

// Columns gives the two columns that hold a reading, both null for nil.
func Columns(r *units.Reading) (value *float64, unit *string) {
	if r == nil {
		return nil, nil
	}
	x, u := r.Value.Float(), string(r.Unit)
	return &x, &u
}

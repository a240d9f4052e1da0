package planning

// put sets a field to what is known, where it is.
func put[T any](field **T, v *T) {
	if v != nil {
		*field = v
	}
}

// given returns the value that is given, or else another.
func given[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

package httpapi

// Inspecting gives options with which every answer of a handler is looked at
// before it is written; an error becomes the answer.
func (o Options) Inspecting(look func(operation string, answer any) error) Options {
	o.inspect = look
	return o
}

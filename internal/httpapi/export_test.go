package httpapi

import (
	"time"
)

// Inspecting gives options with which every answer of a handler is looked at
// before it is written; an error becomes the answer.
func (o Options) Inspecting(look func(operation string, answer any) error) Options {
	o.inspect = look
	return o
}

// Quiet gives options with which a stream's comments come after so long.
func (o Options) Quiet(after time.Duration) Options {
	o.quiet = after
	return o
}

// At gives options whose limits go by another clock.
func (o Options) At(now func() time.Time) Options {
	o.now = now
	return o
}

// Templates returns the templates of a rule's messages, as /v1/rules lists them.
func Templates(rule string) (out []string) {
	for _, m := range messagesOf(rule) {
		out = append(out, m.template)
	}
	return out
}

// Package centre owns the centre itself: its name, its settings, the rule books that
// it applies with its own limits, and the clock of a demo centre.
//
// It must not know people, papers, courses or sessions; those read the centre
// through the view centre_settings.
package centre

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// Service reads and writes the centre. Its methods may be called from any number of
// goroutines; each takes the caller from the context.
type Service struct {
	db *pg.DB
}

// New returns the service on a database.
func New(db *pg.DB) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"centre_clock_only_in_demo": notADemo,
	})
	return &Service{db: db}
}

func notADemo() *fault.Fault {
	return fault.New(fault.Conflict, "not_a_demo", "Only a demo centre has a clock that can be set.")
}

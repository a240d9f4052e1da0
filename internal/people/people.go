// Package people owns the centre and everything about persons: who they are,
// their roles, their papers, whether they are fit today, and the tokens that
// people and programs call with.
//
// It must not know courses, sessions or training; those read people through
// the views named people_….
package people

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// Service reads and writes what the package owns. Its methods may be called from
// any number of goroutines; each opens one transaction in the caller's centre and
// takes the caller from the context.
type Service struct {
	db     *pg.DB
	bounds Bounds
}

// New returns the service on a database.
func New(db *pg.DB) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"centre_clock_only_in_demo": notADemo,
	})
	return &Service{db: db, bounds: defaultBounds}
}

func notADemo() *fault.Fault {
	return fault.New(fault.Conflict, "not_a_demo", "Only a demo centre has a clock that can be set.")
}

// Package people owns everything about persons: who they are, their roles, their
// papers and whether they are fit today, with the corrections of all these.
//
// It must not know tokens, courses, sessions or training; those read people through
// the views named people_…. It reads the centre through the view centre_settings.
package people

import "tankside/internal/pg"

// Service reads and writes what the package owns. Its methods may be called from
// any number of goroutines; each opens one transaction in the caller's centre and
// takes the caller from the context.
type Service struct {
	db *pg.DB
}

// New returns the service on a database.
func New(db *pg.DB) *Service { return &Service{db: db} }

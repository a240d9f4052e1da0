// Package access owns who may call: the tokens of people and programs, the tickets
// that open one address, the scopes that a role allows, and the recognition of a
// caller by a secret.
//
// It must not know papers, fitness, courses or sessions. It reads the roles of a
// person and the name of the centre through the views people_person and
// centre_settings.
package access

import "tankside/internal/pg"

// Service reads and writes what the package owns. Its methods may be called from
// any number of goroutines; each opens one transaction in the caller's centre and
// takes the caller from the context.
type Service struct {
	db     *pg.DB
	bounds Bounds
}

// New returns the service on a database, with the default bounds.
func New(db *pg.DB) *Service {
	return &Service{db: db, bounds: defaultBounds}
}

// Package courses owns what teaching is planned from: sites, syllabuses,
// courses and enrolments.
//
// It must not know what happened in the water; sessions and training read it
// through the views named courses_….
package courses

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// Service reads and writes what the package owns. Its methods may be called from
// any number of goroutines; each opens one transaction in the caller's centre and
// takes the caller from the context.
type Service struct {
	db *pg.DB
}

// New returns the service on a database.
func New(db *pg.DB) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"syllabus_version_id":            fault.IDReused,
		"session_centre_id_site_id_fkey": siteInUse,
		"enrolment_once": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_enrolled",
				"This person is on the course already. Withdraw that enrolment first, or use it.")
		},
	})
	return &Service{db: db}
}

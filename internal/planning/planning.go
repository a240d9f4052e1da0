// Package planning keeps what is agreed before a dive: gas plans, conventions
// of hand signals and briefings.
//
// It owns the tables of these. It must not know how a pressure or a limit is
// worked out: package gas plans gas, package nostop depth and time, package
// signal what numbers look like on the hand. What happened in the water is
// package training's; it is read through its views.
package planning

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// Service keeps what was planned and agreed.
type Service struct {
	db         *pg.DB
	syllabuses *versions.Cache[syllabus.Syllabus]
}

// New returns the service on a database, which reads syllabuses through a cache.
func New(db *pg.DB, syllabuses *versions.Cache[syllabus.Syllabus]) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"convention_code_once": codeTaken,
	})
	return &Service{db: db, syllabuses: syllabuses}
}

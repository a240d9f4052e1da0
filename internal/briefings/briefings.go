// Package briefings keeps what groups are told before a dive: conventions of hand signals,
// briefings, and who has acknowledged them.
//
// It owns their tables. It must not know how a pressure or a limit is worked out, which
// packages gas and nostop do, nor how a number is shown by hand, which is package
// signal's; gas plans are package plans', read through package planview.
package briefings

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/planview"
)

// Service keeps conventions and briefings.
type Service struct {
	db       *pg.DB
	sessions *planview.Reader
}

// New returns the service on a database; sessions reads what told pressures are judged
// by.
func New(db *pg.DB, sessions *planview.Reader) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"convention_code_once": codeTaken,
	})
	return &Service{db: db, sessions: sessions}
}

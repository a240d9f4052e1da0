// Package plans keeps the gas plans of sessions: drafted, stored, replanned, confirmed
// as the plan of record, withdrawn; and the centre's settings for gas.
//
// It owns their tables. It must not know how a pressure or a limit is worked out, which
// packages gas, nostop and gasplan do, nor what a group is told, which is package
// briefings'. What a plan is judged by is read by package planview.
package plans

import (
	"tankside/internal/pg"
	"tankside/internal/planview"
)

// Service keeps gas plans.
type Service struct {
	db       *pg.DB
	sessions *planview.Reader
}

// New returns the service on a database; sessions reads what plans are judged by.
func New(db *pg.DB, sessions *planview.Reader) *Service { return &Service{db: db, sessions: sessions} }

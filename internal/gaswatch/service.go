// Package gaswatch watches the gas of the participants of a session: the low-gas and turn
// pressures that each is held against, which of them was reached and what was done then,
// gaps between checks, gauges that are stuck or misread, when the low-gas pressure will be
// reached; and drills for those who got it wrong.
//
// It owns no table and writes none: it judges a dayview.View and what package waterview
// reads, by packages signal and gas. It must not know how a check is recorded.
package gaswatch

import (
	"tankside/internal/pg"
	"tankside/internal/standing"
)

// Service watches the gas of the participants of sessions.
type Service struct {
	db        *pg.DB
	standings *standing.Reader
}

// New returns the watch on a database, which reads by standings how students are taught.
func New(db *pg.DB, standings *standing.Reader) *Service {
	return &Service{db: db, standings: standings}
}

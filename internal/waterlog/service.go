// Package waterlog records what was witnessed in the water: times in and out, gas checks,
// responses to the gas, drill attempts, and that a log is complete. Each kind of entry has
// a file: what it says, how it is kept, what is checked, and its sentence.
//
// It owns the tables time_in, time_out, gas_check, gas_response, drill_attempt and
// log_completion. It must not know a rule: package watercheck says what is found of an
// entry, and nothing that was witnessed is refused by a rule.
package waterlog

import (
	"tankside/internal/gaswatch"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/watercheck"
)

// Service keeps what was witnessed in the water.
type Service struct {
	db        *pg.DB
	standings *standing.Reader
	watch     *gaswatch.Service
	check     *watercheck.Checker
}

// New returns the log on a database.
func New(db *pg.DB, standings *standing.Reader, watch *gaswatch.Service) *Service {
	return &Service{db: db, standings: standings, watch: watch, check: watercheck.New(standings, watch)}
}

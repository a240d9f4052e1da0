// Package watercheck judges what was witnessed in the water: whether it belongs to the
// session and to somebody who was there, whether a time in should have been, whether a
// dive kept to its limits, whether a reading can be true.
//
// It owns the rules about that, and no table. Its judgements are functions of a session
// that was read (Snapshot); only ReadSnapshot, ReadDive and a Checker read. With an entry
// stands only what is found of its own words. What is found of it beside other facts, such
// as a second time in or a roll call that says otherwise, is found whenever the entry is
// read, from facts in the order in which they were witnessed, so that it does not matter
// in which order they arrived. It must not know how entries are stored.
package watercheck

import (
	"tankside/internal/gaswatch"
	"tankside/internal/standing"
)

// Checker reads sessions as their entries are judged.
type Checker struct {
	standings *standing.Reader
	watch     *gaswatch.Service
}

// New returns a checker that reads what students have learned through standings,
// and doubts gauges by watch.
func New(standings *standing.Reader, watch *gaswatch.Service) *Checker {
	return &Checker{standings: standings, watch: watch}
}

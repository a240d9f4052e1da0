// Package offline takes what a device kept without coverage: it keeps a batch whole
// before anything is judged, hands its entries to the services of the single posts,
// holds what a later entry or a person can cure, and judges it again when something
// that it waits for has come.
//
// It owns the tables water_batch, water_entry, water_wait, water_due and water_held.
// It must not know a rule, nor what an entry of a kind is checked for: the features
// do that, and desk.Kinds lists them.
package offline

import (
	"tankside/internal/assessment"
	"tankside/internal/desk"
	"tankside/internal/journal"
	"tankside/internal/pg"
)

// Service keeps batches from the water and judges what is held. Its methods may be
// called from any number of goroutines.
type Service struct {
	db         *pg.DB
	kinds      journal.Kinds // that a batch may bring
	assessment *assessment.Service
	bounds     Bounds
}

// New returns the service on a database, with the default bounds, which records
// entries through the desk and its features.
func New(db *pg.DB, d *desk.Service) *Service {
	return &Service{db: db, kinds: d.Kinds().Sent(), assessment: d.Assessment(), bounds: usual}
}

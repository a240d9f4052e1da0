package training

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Judges are what training asks of other features in the caller's transaction.
// Every one is required: New panics where one is missing, since without it nothing
// would be found.
type Judges struct {
	// TimesIn returns, by entry, what speaks against the times in of a session, which was
	// read with everything.
	TimesIn func(ctx context.Context, tx *pg.Tx, v dayview.View, in []InWater) (map[uuid.UUID]Against, error)

	// Rates returns, by person, the breathing rate that somebody is planned with. A
	// person whom it leaves out breathes as a novice does.
	Rates func(ctx context.Context, tx *pg.Tx, persons []uuid.UUID) (map[uuid.UUID]units.Rate, error)
}

// require panics where a judge is missing.
func (j Judges) require() {
	if j.TimesIn == nil || j.Rates == nil {
		panic("training: New needs every judge of Judges")
	}
}

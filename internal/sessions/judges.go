package sessions

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Judges are what sessions asks of other features, in the caller's transaction,
// before anybody gets into the water. Every one is required: New panics where one
// is missing, since without it nothing would be found and the water be open.
type Judges struct {
	// Prerequisites returns, by session, the findings for students who have not met
	// the prerequisites of its water.
	Prerequisites func(ctx context.Context, tx *pg.Tx, students []Entrant) (map[uuid.UUID]finding.List, error)
}

// require panics where a judge is missing.
func (j Judges) require() {
	if j.Prerequisites == nil {
		panic("sessions: New needs every judge of Judges")
	}
}

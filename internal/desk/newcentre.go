package desk

import (
	"context"
	"time"

	"github.com/google/uuid"

	"tankside/internal/access"
	"tankside/internal/centre"
	"tankside/internal/people"
	"tankside/internal/pg"
)

// NewCentre asks for a centre and its first manager.
type NewCentre struct {
	centre.Settings
	Demo           bool
	Manager        string // the manager's name
	ManagerBirthOn time.Time
}

// CreateCentre creates a centre with its first manager and a token for them, which
// has every scope that a manager may have, in one transaction. It is for the
// operator, who has no token yet; the API does not offer it.
func CreateCentre(ctx context.Context, db *pg.DB, n NewCentre) (made centre.Centre, first access.Issued,
	err error) {
	err = db.InTx(ctx, uuid.Must(uuid.NewV7()), func(ctx context.Context, tx *pg.Tx) error {
		if made, err = centre.Create(ctx, tx, n.Settings, n.Demo); err != nil {
			return err
		}
		manager, err := people.AddFirstManager(ctx, tx, n.Manager, n.ManagerBirthOn, n.GaugeUnit)
		if err != nil {
			return err
		}
		first, err = access.IssueFirst(ctx, tx, manager)
		return err
	})
	return made, first, err
}

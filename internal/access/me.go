package access

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// Me is what a caller cannot read from their own token.
type Me struct {
	CentreName string
	ExpiresAt  time.Time
}

// Me returns the centre and the token of the caller.
func (s *Service) Me(ctx context.Context, by actor.Actor) (me Me, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		me, err = pg.Row[Me](ctx, tx, `SELECT c.name AS centre_name, t.expires_at
			FROM token t JOIN centre_settings c ON c.centre_id = t.centre_id
			WHERE t.centre_id = @centre AND t.id = @token`,
			pgx.StrictNamedArgs{"centre": by.Centre, "token": by.Token})
		if err != nil {
			return fmt.Errorf("say who is calling: %w", err)
		}
		return nil
	})
	return me, err
}

package pg

import (
	"errors"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"

	"tankside/internal/fault"
)

// translate returns the error for the caller of InTx or DryRun.
func (db *DB) translate(err error) error {
	var f *fault.Fault
	if err == nil || errors.As(err, &f) {
		return err
	}
	if unreachable(err) {
		return fault.New(fault.Unavailable, "database_unavailable",
			"The database is not answering just now. Send the same request again in a moment: "+
				"what was done already is not done twice.").Because(err)
	}
	var e *pgconn.PgError
	if errors.As(err, &e) && strings.HasPrefix(e.Code, "23") {
		db.mu.RLock()
		explain := db.explain[e.ConstraintName]
		db.mu.RUnlock()
		if explain != nil {
			return explain().Because(err)
		}
		if idTaken(e) {
			return fault.IDReused().Because(err)
		}
	}
	return fault.New(fault.Internal, "internal",
		"Something went wrong on our side. Nothing was changed by this request.").Because(err)
}

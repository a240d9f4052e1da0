package waterlog

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// DiveLog is a planned dive with what was recorded of it.
type DiveLog struct {
	dayview.Dive
	Log []waterview.Dive
}

// Dives returns the planned dives of a session that was read, with who went in and came
// out, and with what is found of their entries.
func (s *Service) Dives(ctx context.Context, tx *pg.Tx, v dayview.View,
	found map[uuid.UUID]finding.List) ([]DiveLog, error) {
	var b pgx.Batch
	var log []waterview.Dive
	waterview.QueueDives(&b, &log, v.ID)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	watercheck.DecorateDives(log, found)
	out := make([]DiveLog, len(v.Dives))
	for i, d := range v.Dives {
		out[i].Dive = d
		for _, l := range log {
			if l.DiveID == d.ID {
				out[i].Log = append(out[i].Log, l)
			}
		}
	}
	return out, nil
}

package training

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
	"tankside/internal/signal"
)

// agreed is what was planned and agreed for the gas of some participants.
type agreed struct {
	pressures []struct {
		ParticipantID uuid.UUID
		DiveID        *uuid.UUID // nil: the whole session
		LowValue      *float64
		LowUnit       *string
		TurnValue     *float64
		TurnUnit      *string
	}
	intervals []struct {
		ParticipantID uuid.UUID
		CheckEveryS   *int
	}
}

// queue reads the pressures of the confirmed plans of record of some sessions.
func (a *agreed) queue(sessions []uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		pg.Queue(b, &a.intervals, `SELECT participant_id, check_every_s FROM planning_briefed WHERE centre_id = app_centre() AND session_id = ANY (@sessions)`,
			pgx.StrictNamedArgs{"sessions": sessions})
	}
}

// marks gives the pressures of a participant on a dive: those planned for that
// dive, else for the whole session. Without a dive it is what was planned for
// the session, or for the only dive that there is a plan for.
func (a *agreed) marks(participant uuid.UUID, dive *uuid.UUID) (m signal.Marks) {
	return m
}

// every gives the interval that a participant agreed, 0 for none.
func (a *agreed) every(participant uuid.UUID) time.Duration {
	for _, i := range a.intervals {
		if i.ParticipantID == participant && i.CheckEveryS != nil {
			return time.Duration(*i.CheckEveryS) * time.Second
		}
	}
	return 0
}

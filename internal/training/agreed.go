package training

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// planned are the pressures of confirmed plans of record.
type planned struct {
	rows []struct {
		ParticipantID uuid.UUID
		DiveID        *uuid.UUID // nil: every dive of the session without a plan of its own
		LowValue      *float64
		LowUnit       *string
		TurnValue     *float64
		TurnUnit      *string
	}
}

// queue reads those of some participants of a session, of all for nil.
func (l *planned) queue(session uuid.UUID, parts []uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		sql, args := `SELECT participant_id, dive_id, low_value, low_unit, turn_value, turn_unit FROM planning_pressure
			WHERE centre_id = app_centre() AND session_id = @session`, pgx.StrictNamedArgs{"session": session}
		if parts != nil {
			sql, args["parts"] = sql+` AND participant_id = ANY (@parts)`, parts
		}
		pg.Queue(b, &l.rows, sql, args)
	}
}

// marks gives the pressures of a participant on a dive, in the unit of the
// gauge: those planned for that dive, else for the whole session. Where the
// dive is not known, those of the session, else those of the only dive that has
// a plan; of several dives it cannot be told, and nothing is said.
func (l planned) marks(participant uuid.UUID, gauge units.Unit, dive *uuid.UUID) signal.Marks {
	var session, named []signal.Marks
	for _, r := range l.rows {
		if r.ParticipantID != participant {
			continue
		}
		m := signal.Marks{Turn: onGauge(pg.Reading(r.TurnValue, r.TurnUnit), gauge), LowGas: onGauge(pg.Reading(r.LowValue, r.LowUnit), gauge)}
		switch {
		case r.DiveID == nil:
			session = append(session, m)
		case dive == nil || *r.DiveID == *dive:
			named = append(named, m)
		}
	}
	switch {
	case dive != nil && len(named) > 0:
		return named[0]
	case len(session) > 0:
		return session[0]
	case len(named) == 1:
		return named[0]
	}
	return signal.Marks{}
}

// judge says what a check means for the plan, by itself.
func (l planned) judge(p part, c GasCheck) finding.List {
	return signal.JudgeMarks(l.marks(p.ID, p.GaugeUnit, c.DiveID), signal.Look{Reading: c.Reading, Signalled: c.Signalled})
}

// onGauge gives a planned pressure as it is read on a gauge: in its unit,
// rounded up to its step of reading where the plan was made in another.
func onGauge(p *units.Reading, gauge units.Unit) *units.Reading {
	if p == nil || p.Unit == gauge {
		return p
	}
	step := 5.0
	if gauge == units.UnitPSI {
		step = 100
	}
	return new(p.Pressure().RoundUp(gauge, step))
}

// intervals are those after which the gas is looked at again, as agreed.
type intervals struct {
	rows []struct {
		ParticipantID uuid.UUID
		CheckEveryS   *int
	}
}

// queue reads those of a session.
func (l *intervals) queue(session uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		pg.Queue(b, &l.rows, `SELECT participant_id, check_every_s FROM planning_briefed WHERE centre_id = app_centre() AND session_id = @session`,
			pgx.StrictNamedArgs{"session": session})
	}
}

// of gives that of a participant, 0 for none.
func (l intervals) of(participant uuid.UUID) time.Duration {
	for _, i := range l.rows {
		if i.ParticipantID == participant && i.CheckEveryS != nil {
			return time.Duration(*i.CheckEveryS) * time.Second
		}
	}
	return 0
}

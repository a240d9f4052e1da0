package training

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// agreedRow is what was agreed with a participant about a dive.
type agreedRow struct {
	ParticipantID uuid.UUID
	DiveID        *uuid.UUID // nil: every dive of the session without one of its own
	LowValue      *float64
	LowUnit       *string
	TurnValue     *float64
	TurnUnit      *string
}

// agreed is what the people of a session are held against: the pressures of the
// confirmed plans of record, those that they were told in the newest briefing, and
// the centre's floors.
type agreed struct {
	planned []agreedRow
	told    []agreedRow
	water   []struct {
		Kind          string // of the session
		OpenValue     *float64
		OpenUnit      *string
		ConfinedValue *float64
		ConfinedUnit  *string
	}
}

// queue reads those of some participants of a session, of all for nil.
func (l *agreed) queue(session uuid.UUID, parts []uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		args, some := pgx.StrictNamedArgs{"session": session}, ""
		if parts != nil {
			args["parts"], some = parts, ` AND participant_id = ANY (@parts)`
		}
		pg.QueueRows(b, &l.planned, `SELECT participant_id, dive_id, low_value, low_unit, turn_value, turn_unit FROM planning_pressure
			WHERE centre_id = app_centre() AND session_id = @session`+some, args)
		pg.QueueRows(b, &l.told, `SELECT participant_id, dive_id, low_value, low_unit, turn_value, turn_unit FROM planning_told
			WHERE centre_id = app_centre() AND session_id = @session`+some, args)
		pg.QueueRows(b, &l.water, `SELECT s.kind, f.open_value, f.open_unit, f.confined_value, f.confined_unit
			FROM sessions_session s LEFT JOIN planning_floor f ON f.centre_id = s.centre_id
			WHERE s.centre_id = app_centre() AND s.id = @session`, pgx.StrictNamedArgs{"session": session})
	}
}

// marks returns the pressures that a participant is held against on a dive, in the
// unit of the gauge: the greatest of what was planned, what was told, and the
// centre's floor for the water of the session.
func (l agreed) marks(participant uuid.UUID, gauge units.Unit, dive *uuid.UUID) signal.Marks {
	return signal.Agreed{Plan: marksOf(l.planned, participant, gauge, dive), Briefing: marksOf(l.told, participant, gauge, dive), Floor: l.floor(gauge)}.Marks()
}

// floor returns the centre's floor for the water of the session.
func (l agreed) floor(gauge units.Unit) units.Reading {
	var f gas.Floors
	confined := false
	for _, w := range l.water {
		confined = w.Kind == "confined"
		f = gas.Floors{Open: reading(w.OpenValue, w.OpenUnit), Confined: reading(w.ConfinedValue, w.ConfinedUnit)}
	}
	return f.For(confined, gauge)
}

// reading returns what two columns hold, the zero Reading for nothing.
func reading(value *float64, unit *string) units.Reading {
	if r := pg.Reading(value, unit); r != nil {
		return *r
	}
	return units.Reading{}
}

// marksOf returns the pressures that rows hold for a participant: those for that
// dive, else for the whole session. Where the dive is not known, those of the
// session, else those of the only dive that has any; of several dives it cannot be
// told, and none is returned.
func marksOf(rows []agreedRow, participant uuid.UUID, gauge units.Unit, dive *uuid.UUID) signal.Marks {
	var session, named []signal.Marks
	for _, r := range rows {
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

// judge says what a check means for the pressures that were agreed, by itself.
func (l agreed) judge(p part, c GasCheck) finding.List {
	return signal.JudgeMarks(l.marks(p.ID, p.GaugeUnit, c.DiveID), signal.SeenCheck{Reading: c.Reading, Signalled: c.Signalled, Simulated: c.Simulated})
}

// onGauge gives a planned pressure as it is read on a gauge: in its unit,
// rounded up to its step of reading where the plan was made in another.
func onGauge(p *units.Reading, gauge units.Unit) *units.Reading {
	if p == nil || p.Unit == gauge {
		return p
	}
	return new(gas.CallPressure(p.Pressure(), gauge))
}

// checkEvery returns how often a person's gas is to be looked at, as agreed in the briefing
// that counts for them; 0 for nothing.
func checkEvery(told dayview.Briefings, person uuid.UUID) time.Duration {
	if b, named := told.Newest(person); named && b.CheckEveryS != nil && told.BriefedAt(person) != nil {
		return time.Duration(*b.CheckEveryS) * time.Second
	}
	return 0
}

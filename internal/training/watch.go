package training

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Watched is how one participant's gas stands at a moment, on the dive that the
// person is on, or was on last.
type Watched struct {
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	GroupID       *uuid.UUID
	Role          string
	GaugeUnit     units.Unit
	DiveID        *uuid.UUID      // nil: no time in was recorded, and the checks name no dive
	InAt, OutAt   *time.Time      // nil: not recorded
	Last          *GasCheckLogged // the last look, nil for none
	Age           time.Duration   // of the last look
	Marks         signal.Marks    // of the confirmed plan of record
	CheckEvery    time.Duration   // as agreed, 0 for nothing
	DueAt         *time.Time      // of the next look; nil: nothing is due
	Reached       []signal.Reached
	Trend         *Trend // nil: NoTrend says why
	NoTrend       string
}

// Open gives the gravest response that is still expected, "" for none.
func (w Watched) Open() signal.Response { return signal.OpenResponse(w.Reached) }

// Findings gives what the rules say to the marks that were reached.
func (w Watched) Findings() (out finding.List) {
	for _, r := range w.Reached {
		out = append(out, r.Findings...)
	}
	return out
}

// Trend foretells when somebody's low-gas pressure will be reached; see
// gas.Trend for what it is worth.
type Trend struct {
	LowGasAt, EarliestAt, LatestAt time.Time
	PerMinute                      units.Reading // in the unit of the diver's gauge
	Readings                       int
	LeftOut                        []uuid.UUID // checks that the others contradict
	Depths                         gas.Depths
}

// Watch reads how the gas of everybody in some sessions stands, now and as far
// as it was recorded: by session, in the order asked for, then by name.
// fault.Missing when one of the sessions is not there.
func (s *Service) Watch(ctx context.Context, sessions []uuid.UUID) (out []Watched, now time.Time, err error) {
	if err := mayRead(ctx); err != nil {
		return nil, now, err
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		log, err := readGasLog(ctx, tx, sessions)
		if err != nil {
			return err
		}
		out, now = make([]Watched, 0, len(log.divers)), tx.Now
		for _, d := range log.divers {
			out = append(out, log.watch(d, now))
		}
		return nil
	})
	return out, now, err
}

// gasLog is what was recorded of the gas of some sessions.
type gasLog struct {
	divers []diver
	log    []Logged
	checks []GasCheckLogged
}

// diver is a participant of one of the sessions.
type diver struct {
	part
	SessionID uuid.UUID
}

const diversSQL = `SELECT p.session_id, p.id, p.group_id, p.person_id, p.enrolment_id, p.role, p.gauge_unit, p.attendance, p.attendance_at, n.name, n.birth_on, NULL::boolean AS cleared
	FROM sessions_participant p JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	WHERE p.centre_id = app_centre() AND p.session_id = ANY (@sessions) ORDER BY array_position(@sessions::uuid[], p.session_id), n.name, p.id`

// readGasLog reads what was recorded, in one round trip.
func readGasLog(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) (l gasLog, err error) {
	var b pgx.Batch
	var found []uuid.UUID
	args := pgx.StrictNamedArgs{"sessions": sessions}
	pg.Queue(&b, &found, `SELECT id FROM sessions_session WHERE centre_id = app_centre() AND id = ANY (@sessions)`, args)
	pg.Queue(&b, &l.divers, diversSQL, args)
	pg.Queue(&b, &l.log, loggedFrom+`AND e.session_id = ANY (@sessions)`+inOrder, args)
	pg.Queue(&b, &l.checks, gasChecksFrom+`WHERE e.centre_id = app_centre() AND e.session_id = ANY (@sessions) AND e.voided_at IS NULL
		ORDER BY e.witnessed_at, e.id`, args)
	if err := tx.Send(ctx, &b); err != nil {
		return l, err
	}
	for _, id := range sessions {
		if !slices.Contains(found, id) {
			return l, fault.Missing("session")
		}
	}
	return l, nil
}

// stretch is one participant's time on one dive, with the checks that belong to
// it. Checks of somebody whose times were not recorded make a stretch of their
// own.
type stretch struct {
	DiveID *uuid.UUID
	Logged *Logged // nil: no time in was recorded
	Checks []GasCheckLogged
}

// holds tells whether a moment lies within the times of the stretch.
func (s stretch) holds(at time.Time) bool {
	l := s.Logged
	return l != nil && !at.Before(l.InAt) && (l.OutAt == nil || !at.After(*l.OutAt))
}

// start is when the stretch began, as far as is known.
func (s stretch) start() time.Time {
	if s.Logged != nil {
		return s.Logged.InAt
	}
	return s.Checks[0].WitnessedAt
}

// stretches gives those of a participant in the order of their beginnings. A
// check belongs to the dive that it names, else to the one during which it was
// witnessed. What was seen on the surface belongs to none, unless no dive of
// the participant was recorded at all.
func (l gasLog) stretches(participant uuid.UUID) (out []*stretch) {
	for i, d := range l.log {
		if d.ParticipantID == participant {
			out = append(out, &stretch{DiveID: &l.log[i].DiveID, Logged: &l.log[i]})
		}
	}
	dived := len(out) > 0
	for _, c := range l.checks {
		if *c.ParticipantID != participant {
			continue
		}
		at := belongs(out, c.DiveID, c.WitnessedAt)
		if at == nil && (c.DiveID != nil || !dived) {
			at = &stretch{DiveID: c.DiveID}
			out = append(out, at)
		}
		if at != nil {
			at.Checks = append(at.Checks, c)
		}
	}
	slices.SortStableFunc(out, func(a, b *stretch) int { return a.start().Compare(b.start()) })
	return out
}

// belongs finds the stretch of a dive, or the last that holds a moment; nil for
// none.
func belongs(all []*stretch, dive *uuid.UUID, at time.Time) *stretch {
	for _, s := range slices.Backward(all) {
		switch {
		case dive != nil && s.DiveID != nil && *s.DiveID == *dive, dive == nil && s.holds(at), dive == nil && s.DiveID == nil:
			return s
		}
	}
	return nil
}

// watch says how a participant stands on the last of the stretches.
func (l gasLog) watch(d diver, now time.Time) Watched {
	w := Watched{SessionID: d.SessionID, ParticipantID: d.ID, PersonID: d.PersonID, Name: d.Name, GroupID: d.GroupID, Role: d.Role, GaugeUnit: d.GaugeUnit}
	for i, c := range slices.Backward(l.checks) {
		if *c.ParticipantID == d.ID {
			w.Last, w.Age = &l.checks[i], max(0, now.Sub(c.WitnessedAt))
			break
		}
	}
	if all := l.stretches(d.ID); len(all) > 0 {
		s := all[len(all)-1]
		w.DiveID = s.DiveID
		if s.Logged != nil {
			w.InAt, w.OutAt = &s.Logged.InAt, s.Logged.OutAt
		}
	}
	w.NoTrend = "no plan of record gives a low-gas pressure"
	return w
}

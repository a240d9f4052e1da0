package planning

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
)

// LowGas knows, of some sessions, who was told which low-gas pressure, and which
// plans were left open.
type LowGas struct {
	parts     []toldPart
	dives     []toldDive
	briefings []toldBriefing // newest first
	plans     []toldPlan     // in the order of confirming
	open      []openPlan
}

// toldPart is a participant who may be asked for a low-gas pressure.
type toldPart struct {
	ID        uuid.UUID
	SessionID uuid.UUID
	PersonID  uuid.UUID
	GroupID   *uuid.UUID
	Name      string
	Crew      bool
	Dives     bool // takes part, and is to get into the water
}

// toldDive is a dive of a session.
type toldDive struct {
	ID        uuid.UUID
	SessionID uuid.UUID
	Number    int
	Begun     bool // somebody has gone in
}

// toldBriefing is what a standing briefing said to a participant.
type toldBriefing struct {
	ID            uuid.UUID
	ParticipantID uuid.UUID
	GivenAt       time.Time
	DiveID        *uuid.UUID // that it is about; nil: every dive of the session
	InCharge      bool
	Figures       []storedFigures
	Told          finding.List // what forbids the pressures that it tells
}

// toldPlan is a confirmed plan that a participant is in.
type toldPlan struct {
	ParticipantID uuid.UUID
	PlanID        uuid.UUID
	DiveID        *uuid.UUID // nil: every dive of the session
	GroupID       *uuid.UUID // nil: not of one group alone
	ConfirmedAt   time.Time
	WithdrawnAt   *time.Time
}

// openPlan is the newest plan, of a dive and group, that was made after the last
// confirmed one and neither confirmed nor withdrawn.
type openPlan struct {
	ID        uuid.UUID
	SessionID uuid.UUID
	PlannedAt time.Time
	TimeZone  string
	Dive      *int    // its number
	Group     *string // its name
	Findings  finding.List
}

const (
	toldPartsSQL = `SELECT p.id, p.session_id, p.person_id, p.group_id, n.name, p.role <> 'student' AS crew,
			p.counted AND NOT EXISTS (
				SELECT FROM sessions_not_diving x WHERE x.centre_id = p.centre_id AND x.session_id = p.session_id AND x.participant_id = p.id) AS dives
		FROM sessions_participant p
		JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
		WHERE p.centre_id = app_centre() AND p.session_id = ANY (@sessions)
		ORDER BY n.name, p.id`
	toldDivesSQL = `SELECT d.id, d.session_id, d.number,
			EXISTS (SELECT FROM training_dive t WHERE t.centre_id = d.centre_id AND t.session_id = d.session_id AND t.dive_id = d.id) AS begun
		FROM sessions_dive d
		WHERE d.centre_id = app_centre() AND d.session_id = ANY (@sessions)
		ORDER BY d.session_id, d.number`
	toldBriefingsSQL = `SELECT b.id, p.id AS participant_id, b.given_at, f.dive_id, f.in_charge, x.figures, x.told
		FROM planning_briefing b
		JOIN briefing f ON f.centre_id = b.centre_id AND f.id = b.id
		JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id AND x.person_id = b.person_id
		JOIN sessions_participant p ON p.centre_id = b.centre_id AND p.session_id = b.session_id AND p.person_id = b.person_id
		WHERE b.centre_id = app_centre() AND b.session_id = ANY (@sessions)
		ORDER BY b.given_at DESC, b.recorded_at DESC, b.id`
	toldPlansSQL = `SELECT x.participant_id, c.plan_id, c.dive_id, c.group_id, c.confirmed_at, w.withdrawn_at
		FROM gas_plan_confirmed c
		JOIN gas_plan_person x ON x.centre_id = c.centre_id AND x.plan_id = c.plan_id
		LEFT JOIN gas_plan_withdrawn w ON w.centre_id = c.centre_id AND w.plan_id = c.plan_id
		WHERE c.centre_id = app_centre() AND c.session_id = ANY (@sessions)
		ORDER BY c.session_id, c.turn`
	openPlansSQL = `SELECT DISTINCT ON (p.session_id, p.dive_id, p.group_id)
			p.id, p.session_id, p.planned_at, s.time_zone, d.number AS dive, g.name AS "group", p.findings
		FROM gas_plan p
		JOIN sessions_session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		LEFT JOIN sessions_dive d ON d.centre_id = p.centre_id AND d.id = p.dive_id
		LEFT JOIN sessions_group g ON g.centre_id = p.centre_id AND g.id = p.group_id
		WHERE p.centre_id = app_centre() AND p.session_id = ANY (@sessions)
			AND (p.group_id IS NULL OR g.id IS NOT NULL)
			AND NOT EXISTS (SELECT FROM gas_plan_withdrawn w WHERE w.centre_id = p.centre_id AND w.plan_id = p.id)
			AND NOT EXISTS (
				SELECT FROM gas_plan_confirmed c
				JOIN gas_plan q ON q.centre_id = c.centre_id AND q.id = c.plan_id
				WHERE c.centre_id = p.centre_id AND c.session_id = p.session_id
					AND c.dive_id IS NOT DISTINCT FROM p.dive_id AND c.group_id IS NOT DISTINCT FROM p.group_id
					AND (q.planned_at, q.id) >= (p.planned_at, p.id))
		ORDER BY p.session_id, p.dive_id, p.group_id, p.planned_at DESC, p.id DESC`
)

// LowGas reads, within the caller's transaction, who was told which low-gas
// pressure in some sessions.
func (s *Service) LowGas(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) (l LowGas, err error) {
	var b pgx.Batch
	args := pgx.StrictNamedArgs{"sessions": sessions}
	pg.Queue(&b, &l.parts, toldPartsSQL, args)
	pg.Queue(&b, &l.dives, toldDivesSQL, args)
	pg.Queue(&b, &l.briefings, toldBriefingsSQL, args)
	pg.Queue(&b, &l.plans, toldPlansSQL, args)
	pg.Queue(&b, &l.open, openPlansSQL, args)
	if err = tx.Send(ctx, &b); err != nil {
		err = fmt.Errorf("read who was told a low-gas pressure: %w", err)
	}
	return l, err
}

// LowGasOn is LowGas for the session of a dive.
func (s *Service) LowGasOn(ctx context.Context, tx *pg.Tx, dive uuid.UUID) (LowGas, error) {
	session, found, err := pg.Maybe[uuid.UUID](ctx, tx, `SELECT session_id FROM sessions_dive WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": dive})
	if err != nil || !found {
		return LowGas{}, err
	}
	return s.LowGas(ctx, tx, session)
}

// Untold returns, by participant, what keeps everybody out of the water who is to
// dive and was told no low-gas pressure: for the first dive of the session, or,
// once somebody has gone in on that one, for any.
func (l LowGas) Untold() map[uuid.UUID]finding.List {
	out := map[uuid.UUID]finding.List{}
	for _, p := range l.parts {
		if !p.Dives {
			continue
		}
		if found := l.untold(p); len(found) > 0 {
			out[p.ID] = found
		}
	}
	return out
}

func (l LowGas) untold(p toldPart) finding.List {
	_, found := l.toldFor(p)
	return found
}

// toldFor returns the dive that a participant is asked for a low-gas pressure, and
// what is missing of it.
func (l LowGas) toldFor(p toldPart) (first toldDive, found finding.List) {
	for i, d := range l.divesOf(p.SessionID) {
		now := l.lacks(p, d, nil)
		if i == 0 {
			first, found = d, now
		}
		if len(now) == 0 || i == 0 && !d.Begun {
			return d, now
		}
	}
	return first, found
}

// ToldBy is what told a participant a low-gas pressure for a dive: a confirmed plan, a
// briefing, or both.
type ToldBy struct {
	DiveID     uuid.UUID
	PlanID     *uuid.UUID
	BriefingID *uuid.UUID
}

// ToldBy returns, by participant, what told everybody their low-gas pressure who is to
// dive and lacks none.
func (l LowGas) ToldBy() map[uuid.UUID]ToldBy {
	out := map[uuid.UUID]ToldBy{}
	for _, p := range l.parts {
		d, found := l.toldFor(p)
		if !p.Dives || d.ID == uuid.Nil || len(found) > 0 {
			continue
		}
		by := ToldBy{DiveID: d.ID}
		if plan := l.planOf(p, d, nil); plan != nil {
			by.PlanID = &plan.PlanID
		}
		if told, briefed := l.toldIn(p, d, nil); briefed && told.figuresFor(d).Low != nil {
			by.BriefingID = &told.ID
		}
		out[p.ID] = by
	}
	return out
}

// UntoldAt returns what speaks against somebody's time in on a dive: that they had
// been told no low-gas pressure for it by then.
func (l LowGas) UntoldAt(participant, dive uuid.UUID, at time.Time) finding.List {
	i := slices.IndexFunc(l.parts, func(p toldPart) bool { return p.ID == participant })
	j := slices.IndexFunc(l.dives, func(d toldDive) bool { return d.ID == dive })
	if i < 0 || j < 0 {
		return nil
	}
	return l.lacks(l.parts[i], l.dives[j], &at)
}

// LeftOpen returns, by session, the cautions about plans that were left open.
func (l LowGas) LeftOpen() map[uuid.UUID]finding.List {
	out := map[uuid.UUID]finding.List{}
	for _, p := range l.open {
		out[p.SessionID] = append(out[p.SessionID], p.finding())
	}
	return out
}

func (l LowGas) divesOf(session uuid.UUID) (out []toldDive) {
	for _, d := range l.dives {
		if d.SessionID == session {
			out = append(out, d)
		}
	}
	return out
}

// lacks returns what is missing of a low-gas pressure for a dive, as of an instant,
// nil for now. What a briefing told is refused where something forbids it, even
// beside a confirmed plan: the person would go by it.
func (l LowGas) lacks(p toldPart, d toldDive, at *time.Time) finding.List {
	told, briefed := l.toldIn(p, d, at)
	if briefed && told.Told.Forbids() {
		return append(finding.List{p.untold(d, "What the briefing told them is refused.")}, told.Told.Only(finding.Forbidden)...)
	}
	f := told.figuresFor(d)
	switch {
	case l.planned(p, d, at):
		return nil
	case !briefed || f.Low == nil || f.PlanID != nil && l.withdrawn(*f.PlanID, at):
		return finding.List{p.untold(d, "")}
	case !told.InCharge:
		return finding.List{p.untold(d, "Who briefed them is in charge of no group here.")}
	}
	return nil
}

// toldIn returns the newest briefing that names a participant and is about a dive.
func (l LowGas) toldIn(p toldPart, d toldDive, at *time.Time) (toldBriefing, bool) {
	i := slices.IndexFunc(l.briefings, func(b toldBriefing) bool {
		return b.ParticipantID == p.ID && given(b.DiveID, d.ID) == d.ID && !later(b.GivenAt, at)
	})
	if i < 0 {
		return toldBriefing{}, false
	}
	return l.briefings[i], true
}

// figuresFor returns the pressures that were told for a dive, else those for all.
func (b toldBriefing) figuresFor(d toldDive) storedFigures {
	return told{Figures: b.Figures}.figures(&d.ID)
}

// planned reports whether a confirmed plan tells a participant their pressures for
// a dive.
func (l LowGas) planned(p toldPart, d toldDive, at *time.Time) bool { return l.planOf(p, d, at) != nil }

// planOf returns the confirmed plan that tells a participant their pressures for a
// dive, nil for none: the last one of that dive, or else of every dive. A plan of one
// group tells nobody who is in another one now; what it was when they went in is not
// asked again.
func (l LowGas) planOf(p toldPart, d toldDive, at *time.Time) *toldPlan {
	var own, every *toldPlan
	for i, x := range l.plans {
		if x.ParticipantID != p.ID || later(x.ConfirmedAt, at) {
			continue
		}
		switch {
		case x.DiveID == nil:
			every = &l.plans[i]
		case *x.DiveID == d.ID:
			own = &l.plans[i]
		}
	}
	switch {
	case own.tells(p, at):
		return own
	case every.tells(p, at):
		return every
	}
	return nil
}

func (x *toldPlan) tells(p toldPart, at *time.Time) bool {
	if x == nil || x.WithdrawnAt != nil && !later(*x.WithdrawnAt, at) {
		return false
	}
	return at != nil || x.GroupID == nil || p.GroupID != nil && *p.GroupID == *x.GroupID
}

// withdrawn reports whether a plan had been withdrawn.
func (l LowGas) withdrawn(plan uuid.UUID, at *time.Time) bool {
	return slices.ContainsFunc(l.plans, func(x toldPlan) bool {
		return x.PlanID == plan && x.WithdrawnAt != nil && !later(*x.WithdrawnAt, at)
	})
}

// later reports whether something came after an instant; nothing comes after nil,
// which is now.
func later(x time.Time, at *time.Time) bool { return at != nil && x.After(*at) }

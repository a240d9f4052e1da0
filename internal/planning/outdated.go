package planning

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Outdated is somebody whom the newest briefing that names them told other
// pressures than those that a plan confirmed since gives them. A new briefing
// cures it; acknowledging the old one again does not, since it says what was said.
type Outdated struct {
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	BriefingID    uuid.UUID
	Changes       []ToldOtherwise
}

// ToldOtherwise is a pressure as it was told and as it counts now, both as hands
// show them: whatever stays within the step of 10 bar or 100 psi is no change.
type ToldOtherwise struct {
	Figure string         // "start", "turn" or "low-gas"
	Told   *units.Reading // nil: none was told
	Now    units.Reading
	PlanID uuid.UUID
	Since  time.Time   // when the plan was confirmed
	Dive   *int        // number of the dive that the plan is for, nil for every dive without a plan of its own
	dives  []uuid.UUID // of the session, to which the plan applies
}

// Outdated finds in some sessions, within the caller's transaction, everybody who
// takes part and is to be briefed again.
func (s *Service) Outdated(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) ([]Outdated, error) {
	r, err := readRetelling(ctx, tx, sessions)
	return r.outdated(), err
}

// OutdatedOn is Outdated for the session of a dive.
func (s *Service) OutdatedOn(ctx context.Context, tx *pg.Tx, dive uuid.UUID) ([]Outdated, error) {
	session, found, err := pg.Maybe[uuid.UUID](ctx, tx, `SELECT session_id FROM sessions_dive WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": dive})
	if err != nil || !found {
		return nil, err
	}
	return s.Outdated(ctx, tx, session)
}

// outdatedBy finds those whom confirming a plan would give other pressures than
// they were told.
func outdatedBy(ctx context.Context, tx *pg.Tx, p GasPlan) ([]Outdated, error) {
	r, err := readRetelling(ctx, tx, []uuid.UUID{p.SessionID})
	if err != nil {
		return nil, err
	}
	r.confirming(p, tx.Now)
	return slices.DeleteFunc(r.outdated(), func(o Outdated) bool {
		return !slices.ContainsFunc(o.Changes, func(c ToldOtherwise) bool { return c.PlanID == p.ID })
	}), nil
}

// At leaves what counted on a dive at a moment; no change is left where the
// person went in as briefed.
func (o Outdated) At(dive uuid.UUID, at time.Time) Outdated {
	o.Changes = slices.DeleteFunc(slices.Clone(o.Changes), func(c ToldOtherwise) bool {
		return c.Since.After(at) || !slices.Contains(c.dives, dive)
	})
	return o
}

// Finding says what the person was told and what counts now.
func (o Outdated) Finding() finding.Finding {
	told, now := o.words()
	f := BriefingOutdated.Of(fmt.Sprintf("%s was told %s; the plan confirmed since says %s.", o.Name, told, now), o.subjects()...)
	f.Params = map[string]any{"person": o.Name, "told": told, "now": now}
	f.Limit, f.Found = finding.Words(now), finding.Words(told)
	f.Cures = []finding.Cure{
		{Code: "brief_again", Message: "Brief the person again with the pressures that count now, and have it acknowledged."},
		{Code: "sit_out", Message: "Let the person sit out."},
	}
	return f
}

func (o Outdated) subjects() []finding.Subject {
	return []finding.Subject{participant(o.ParticipantID), {Type: "person", ID: o.PersonID.String()}}
}

func (o Outdated) words() (told, now string) {
	var before, after []string
	for i, c := range o.Changes {
		what, dive := c.Figure, ""
		last := i+1 == len(o.Changes) || o.Changes[i+1].PlanID != c.PlanID
		if c.Dive != nil && last {
			dive = fmt.Sprintf(" on dive %d", *c.Dive)
		}
		if c.Told == nil {
			before = append(before, "no "+what+" pressure"+dive)
		} else {
			before = append(before, what+" "+c.Told.String()+dive)
		}
		after = append(after, what+" "+c.Now.String()+dive)
	}
	return strings.Join(before, ", "), strings.Join(after, ", ")
}

// briefAgain tells who confirms a plan whom it gives other pressures than they
// were told.
func briefAgain(all []Outdated) finding.List {
	if len(all) == 0 {
		return nil
	}
	var who []string
	f := BriefAgain.Of("")
	for _, o := range all {
		told, now := o.words()
		who = append(who, fmt.Sprintf("%s (told %s; now %s)", o.Name, told, now))
		f.Subjects = append(f.Subjects, o.subjects()...)
	}
	f.Message = "To be briefed again, since this plan gives them other pressures than they were told: " + strings.Join(who, ", ") + "."
	f.Found = finding.Count(len(all), "people")
	f.Cures = []finding.Cure{{Code: "brief_again", Message: "Brief them again with the pressures of this plan, and have it acknowledged."}}
	return finding.List{f}
}

// retelling is what outdated briefings are found by.
type retelling struct {
	told  []told
	plans []plannedPressure
	dives []struct {
		ID        uuid.UUID
		SessionID uuid.UUID
		Number    int
	}
}

// told is what a participant's newest standing briefing said.
type told struct {
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	BriefingID    uuid.UUID
	GaugeUnit     units.Unit
	Figures       []storedFigures
}

const toldSQL = `SELECT DISTINCT ON (b.session_id, b.person_id) b.session_id, p.id AS participant_id, b.person_id, n.name, b.id AS briefing_id, x.gauge_unit, x.figures
	FROM planning_briefing b
	JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id AND x.person_id = b.person_id
	JOIN sessions_participant p ON p.centre_id = b.centre_id AND p.session_id = b.session_id AND p.person_id = b.person_id AND p.counted
	JOIN people_person n ON n.centre_id = b.centre_id AND n.id = b.person_id
	WHERE b.centre_id = app_centre() AND b.session_id = ANY (@sessions)
	ORDER BY b.session_id, b.person_id, b.given_at DESC, b.recorded_at DESC, b.id`

func readRetelling(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) (r retelling, err error) {
	var b pgx.Batch
	r.queue(&b, sessions)
	if err = tx.Send(ctx, &b); err != nil {
		err = fmt.Errorf("read who was told what: %w", err)
	}
	return r, err
}

func (r *retelling) queue(b *pgx.Batch, sessions []uuid.UUID) {
	args := pgx.StrictNamedArgs{"sessions": sessions}
	pg.Queue(b, &r.told, toldSQL, args)
	pg.Queue(b, &r.plans, pressuresSQL+` AND session_id = ANY (@sessions)`, args)
	pg.Queue(b, &r.dives, `SELECT id, session_id, number FROM sessions_dive WHERE centre_id = app_centre() AND session_id = ANY (@sessions)`, args)
}

// confirming puts a plan in the place of those that confirming it supersedes.
func (r *retelling) confirming(p GasPlan, now time.Time) {
	for _, x := range p.Result.People {
		if x.ParticipantID == nil {
			continue
		}
		row := plannedPressure{SessionID: p.SessionID, ParticipantID: *x.ParticipantID, DiveID: p.DiveID, PlanID: p.ID, ConfirmedAt: now}
		row.StartValue, row.StartUnit = pg.Columns(new(x.Start.Reading()))
		row.TurnValue, row.TurnUnit = pg.Columns(new(x.Turn.Reading()))
		row.LowValue, row.LowUnit = pg.Columns(new(x.Low.Reading()))
		r.plans = append(slices.DeleteFunc(r.plans, func(o plannedPressure) bool {
			return o.ParticipantID == row.ParticipantID && given(o.DiveID, uuid.Nil) == given(row.DiveID, uuid.Nil)
		}), row)
	}
}

// outdated gives those whom a plan gives other pressures than they were told, by
// name.
func (r retelling) outdated() (out []Outdated) {
	for _, t := range r.told {
		o := Outdated{SessionID: t.SessionID, ParticipantID: t.ParticipantID, PersonID: t.PersonID, Name: t.Name, BriefingID: t.BriefingID}
		for _, p := range r.plans {
			if p.ParticipantID != t.ParticipantID {
				continue
			}
			number, dives, counts := r.divesOf(p)
			if !counts {
				continue
			}
			for _, c := range t.against(p) {
				c.Dive, c.dives = number, dives
				o.Changes = append(o.Changes, c)
			}
		}
		if len(o.Changes) > 0 {
			out = append(out, o)
		}
	}
	slices.SortFunc(out, func(a, b Outdated) int { return cmpText(a.Name+a.PersonID.String(), b.Name+b.PersonID.String()) })
	return out
}

// divesOf gives the dives to which somebody's plan applies: its own, or every
// dive of the session without one. It counts for nothing where each has its own.
func (r retelling) divesOf(p plannedPressure) (number *int, dives []uuid.UUID, counts bool) {
	planned := false
	for _, d := range r.dives {
		if d.SessionID != p.SessionID {
			continue
		}
		planned = true
		switch {
		case p.DiveID == nil && !r.hasOwn(p.ParticipantID, d.ID):
			dives = append(dives, d.ID)
		case p.DiveID != nil && d.ID == *p.DiveID:
			return &d.Number, []uuid.UUID{d.ID}, true
		}
	}
	return nil, dives, p.DiveID == nil && (len(dives) > 0 || !planned)
}

func (r retelling) hasOwn(participant, dive uuid.UUID) bool {
	return slices.ContainsFunc(r.plans, func(p plannedPressure) bool {
		return p.ParticipantID == participant && given(p.DiveID, uuid.Nil) == dive
	})
}

// against compares what was told with a plan, as the person's gauge and hands
// show both. Of the same plan the briefing may have said something else, which
// is agreed and was pointed out then.
func (t told) against(p plannedPressure) (out []ToldOtherwise) {
	f := t.figures(p.DiveID)
	if f.PlanID != nil && *f.PlanID == p.PlanID {
		return nil
	}
	said, now := f.pressures().onHand(t.GaugeUnit), p.pressures().onHand(t.GaugeUnit)
	for _, x := range []struct {
		name      string
		told, now *units.Reading
	}{{"start", said.Start, now.Start}, {"turn", said.Turn, now.Turn}, {"low-gas", said.Low, now.Low}} {
		if x.now != nil && (x.told == nil || *x.told != *x.now) {
			out = append(out, ToldOtherwise{Figure: x.name, Told: x.told, Now: *x.now, PlanID: p.PlanID, Since: p.ConfirmedAt})
		}
	}
	return out
}

// figures gives those that were told for a dive, else those for all dives.
func (t told) figures(dive *uuid.UUID) (all storedFigures) {
	for _, f := range t.Figures {
		switch {
		case f.DiveID == nil:
			all = f
		case dive != nil && *f.DiveID == *dive:
			return f
		}
	}
	return all
}

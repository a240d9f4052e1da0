package sessions

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/when"
)

// UnreadyFor gives, by participant, what of papers and fitness speaks against
// somebody getting into the water on a planned dive, as at the opening of its
// session; who is ready is not in the answer.
func (s *Service) UnreadyFor(ctx context.Context, tx *pg.Tx, dive uuid.UUID) (map[uuid.UUID]finding.List, error) {
	session, found, err := pg.Maybe[Session](ctx, tx, `SELECT `+sessionColumns+` FROM session s JOIN dive d ON d.centre_id = s.centre_id AND d.session_id = s.id
		WHERE d.centre_id = app_centre() AND d.id = @id`, pgx.StrictNamedArgs{"id": dive})
	if err == nil && !found {
		err = fault.Missing("dive")
	}
	if err != nil {
		return nil, err
	}
	parts, err := participantsOf(ctx, tx, session.ID)
	if err != nil {
		return nil, err
	}
	return unready(ctx, tx, session, parts)
}

// UnreadyIn returns the same of one person in one session.
func (s *Service) UnreadyIn(ctx context.Context, tx *pg.Tx, session, person uuid.UUID) (out finding.List, err error) {
	in, err := findSession(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	parts, err := participantsOf(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	parts = slices.DeleteFunc(parts, func(p Participant) bool { return p.PersonID != person })
	lacks, err := unready(ctx, tx, in, parts)
	for _, p := range parts {
		out = append(out, lacks[p.ID]...)
	}
	return out, err
}

// unready gives the same for some participants of a session.
func unready(ctx context.Context, tx *pg.Tx, session Session, parts []Participant) (map[uuid.UUID]finding.List, error) {
	c, err := readCentre(ctx, tx)
	if err != nil {
		return nil, err
	}
	people, err := peopleOn(ctx, tx, personIDs(parts), session.OnDay)
	if err != nil {
		return nil, err
	}
	session.State = UnderWay // people are judged as at the opening
	out := map[uuid.UUID]finding.List{}
	for _, p := range parts {
		if l := judgePerson(c.demands(session.OnDay), people[p.PersonID], session, p.Role); len(l) > 0 {
			out[p.ID] = l
		}
	}
	return out, nil
}

// Readiness says what stands between a person and the water on a day.
type Readiness struct {
	On    time.Time
	Parts []ReadyPart
}

// ReadyPart says what stands between a person and the water in one part.
type ReadyPart struct {
	Part  Role // Student, Assistant or Instructor
	Found finding.List
}

// Ready tells whether nothing on record forbids it.
func (p ReadyPart) Ready() bool { return !p.Found.Forbids() }

// Readiness judges a person's papers and fitness on a day, as at the opening of
// a water session, in each part that the person's roles allow; on is today at the
// centre unless said. A student may ask for themselves only.
func (s *Service) Readiness(ctx context.Context, id uuid.UUID, on *time.Time) (out Readiness, err error) {
	who := actor.From(ctx)
	if !who.Staff() && !who.IsProgram() && who.Person != id {
		return out, fault.MissingRole("the crew and managers; a student asks for themselves")
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := readCentre(ctx, tx)
		if err != nil {
			return err
		}
		if out.On, err = c.day(on, tx.Now); err != nil {
			return err
		}
		people, err := peopleOn(ctx, tx, []uuid.UUID{id}, out.On)
		if err != nil {
			return err
		}
		p, ok := people[id]
		if !ok {
			return fault.Missing("person")
		}
		out.Parts = partsOf(c.demands(out.On), p, out.On)
		return nil
	})
	return out, err
}

// day gives the day that is asked about: today at the centre unless said.
func (c centre) day(on *time.Time, now time.Time) (time.Time, error) {
	if on != nil {
		return *on, nil
	}
	zone, err := when.Zone(c.TimeZone, "")
	return when.DayOf(now, zone), err
}

func partsOf(d roster.Demands, p person, on time.Time) []ReadyPart {
	water := Session{Kind: ratio.Open, State: UnderWay, OnDay: on} // people are judged as at the opening
	var out []ReadyPart
	for _, part := range []Role{Student, Assistant, Instructor} {
		if !p.is(string(part)) {
			continue
		}
		r := ReadyPart{Part: part, Found: judgePerson(d, p, water, part)}
		if part == Assistant {
			r.Found = append(r.Found, roster.Assistant(p.Person, roster.Day(water.Day()))...)
		}
		out = append(out, r)
	}
	return out
}

// PressureFindings is what is found of the low-gas pressures of some sessions.
type PressureFindings struct {
	Untold map[uuid.UUID]finding.List // by participant who is to dive and was told none
	Open   map[uuid.UUID]finding.List // by session: gas plans that were neither confirmed nor withdrawn
	Told   map[uuid.UUID]ToldBy       // by participant who is to dive and was told one
}

// ToldBy is what told a participant a low-gas pressure for a dive: a confirmed plan, a
// briefing, or both, by their ids.
type ToldBy struct {
	Dive     uuid.UUID  `json:"dive"`
	Plan     *uuid.UUID `json:"plan,omitempty"`
	Briefing *uuid.UUID `json:"briefing,omitempty"`
}

// told is who of some sessions has been briefed, who was told in it what no longer
// counts, who was told no low-gas pressure, and whose plan rests on somebody who
// does not dive.
type told struct {
	briefed   []uuid.UUID
	outdated  map[uuid.UUID]finding.List
	pressures PressureFindings
	away      map[uuid.UUID]finding.List // of those whose partner does not dive
}

// briefedSQL reads who has been briefed for the sessions @ids.
const briefedSQL = `SELECT participant_id FROM planning_briefed WHERE centre_id = app_centre() AND session_id = ANY (@ids)`

func (s *Service) readTold(ctx context.Context, tx *pg.Tx, session uuid.UUID) (t told, err error) {
	if err := s.readFound(ctx, tx, &t, session); err != nil {
		return t, err
	}
	t.briefed, err = pg.Many[uuid.UUID](ctx, tx, briefedSQL, pgx.StrictNamedArgs{"ids": []uuid.UUID{session}})
	return t, err
}

// readFound reads what planning finds of who was told what.
func (s *Service) readFound(ctx context.Context, tx *pg.Tx, t *told, sessions ...uuid.UUID) (err error) {
	if t.outdated, err = s.judges.Outdated(ctx, tx, sessions); err != nil {
		return err
	}
	if t.pressures, err = s.judges.Pressures(ctx, tx, sessions); err != nil {
		return err
	}
	t.away, err = s.judges.PartnersAway(ctx, tx, sessions)
	return err
}

// lacks finds what somebody lacks before the water, beside papers and what was
// learned: a briefing that counts and is acknowledged, crew included, since they
// answer the same signals; a low-gas pressure; and, for a student, a group.
func (t told) lacks(p Participant) finding.List {
	found := slices.Concat(t.outdated[p.ID], t.pressures.Untold[p.ID], t.away[p.ID])
	if !slices.Contains(t.briefed, p.ID) {
		f := NotBriefed.Say("{person} has not acknowledged a briefing for this session.", p.PersonName).About(finding.Subject{Type: "participant", ID: p.ID.String()}, finding.Subject{Type: "person", ID: p.PersonID.String()})
		f.Cures = []finding.Cure{
			{Code: "brief", Message: "Brief them, and have it acknowledged, or enter that they said so."},
			{Code: "sit_out", Message: "Let the person sit out."},
		}
		found = append(found, f)
	}
	if p.Role == Student {
		found = append(found, ungrouped(p)...)
	}
	return found
}

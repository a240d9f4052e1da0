package sessions

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/roster"
	"tankside/internal/when"
)

// Unready returns, by participant, what of papers and fitness speaks against getting
// into the water of a session, as at its opening; who is ready is left out. The view
// was read with people.
func Unready(v dayview.View) map[uuid.UUID]finding.List {
	session := v.Session
	session.State = UnderWay // people are judged as at the opening
	out := map[uuid.UUID]finding.List{}
	for _, p := range v.Participants {
		if l := judgePerson(v.Centre.Demands(v.OnDay), v.People[p.PersonID], session, p.Role); len(l) > 0 {
			out[p.ID] = l
		}
	}
	return out
}

// Readiness is what stands between a person and the water on a day.
type Readiness struct {
	On    time.Time
	Parts []ReadyPart
}

// ReadyPart is what stands between a person and the water in one part.
type ReadyPart struct {
	Part  Role // Student, Assistant or Instructor
	Found finding.List
}

// Ready reports whether nothing on record forbids it.
func (p ReadyPart) Ready() bool { return !p.Found.Forbids() }

// Readiness judges a person's papers and fitness on a day, as at the opening of
// a water session, in each part that the person's roles allow; on is today at the
// centre unless said. A student may ask for themselves only.
func (s *Service) Readiness(ctx context.Context, by actor.Actor, id uuid.UUID, on *time.Time) (out Readiness,
	err error) {
	if !permission.Covers("getReadiness", by, id) {
		return out, permission.Refusal("getReadiness", by)
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := dayview.ReadCentre(ctx, tx)
		if err != nil {
			return err
		}
		if out.On, err = dayAsked(c, on, tx.Now); err != nil {
			return err
		}
		people, err := dayview.ReadPeople(ctx, tx, []uuid.UUID{id}, out.On)
		if err != nil {
			return err
		}
		p, ok := people[id]
		if !ok {
			return fault.NoSuch("person")
		}
		out.Parts = partsOf(c.Demands(out.On), p, out.On)
		return nil
	})
	return out, err
}

// dayAsked returns the day that is asked about: today at the centre unless said.
func dayAsked(c centre, on *time.Time, now time.Time) (time.Time, error) {
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
		if !p.Is(string(part)) {
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

// told is what is found of what the participants of a session were told, by
// participant.
type told struct {
	dayview.View
	outdated map[uuid.UUID]finding.List // told in their briefing what no longer counts
	away     map[uuid.UUID]finding.List // their partner does not dive
}

// toldOf judges what the participants of a session were told. The view was read with
// people and what was told.
func toldOf(v dayview.View) told {
	t := told{View: v, outdated: map[uuid.UUID]finding.List{}, away: readiness.PartnersAway(v)}
	for _, o := range readiness.Outdated(v) {
		t.outdated[o.ParticipantID] = finding.List{o.Finding()}
	}
	return t
}

// besides returns what a participant lacks beside a low-gas pressure: a briefing that
// counts and is acknowledged, crew included, since they answer the same signals; and,
// for a student, a group.
func (t told) besides(p Participant) finding.List {
	found := slices.Concat(t.outdated[p.ID], t.away[p.ID])
	if t.BriefedAt(p.PersonID) == nil {
		f := NotBriefed.Say("{person} has not acknowledged a briefing for this session.",
			finding.Person(p.PersonID, p.PersonName)).About(finding.Subject{Type: "participant",
			ID: p.ID.String()}, finding.Subject{Type: "person", ID: p.PersonID.String()})
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

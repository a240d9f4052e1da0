package sessions

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Day is one person's day: every session that the person has a part in, with
// all of its groups and participants and what speaks against going ahead.
type Day struct {
	PersonID uuid.UUID
	On       time.Time
	Sessions []SessionDay
}

// SessionDay is a session as somebody who works on it needs it.
type SessionDay struct {
	Session      Session
	Groups       []Group
	Participants []Participant
	Findings     finding.List // of clearance and of everybody's readiness
}

// DayOf reads a person's day, by the days of the sessions in their own zones.
// A student sees only the own day.
func (s *Service) DayOf(ctx context.Context, person uuid.UUID, on time.Time) (out Day, err error) {
	who := actor.From(ctx)
	if !who.Staff() && !who.IsProgram() && who.Person != person {
		return out, fault.MissingRole("the crew and managers; a student reads only the own day")
	}
	out = Day{PersonID: person, On: on}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []uuid.UUID
		var sessions []Session
		args := pgx.StrictNamedArgs{"person": person, "on": on}
		pg.Queue(&b, &known, `SELECT id FROM people_lock WHERE centre_id = app_centre() AND id = @person`, pgx.StrictNamedArgs{"person": person})
		pg.Queue(&b, &sessions, `SELECT `+sessionColumns+` FROM participant p JOIN session s ON s.centre_id = p.centre_id AND s.id = p.session_id
			WHERE p.centre_id = app_centre() AND p.person_id = @person AND s.on_day = @on ORDER BY s.starts_at, s.id`, args)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if len(known) == 0 {
			return fault.Missing("person")
		}
		out.Sessions, err = s.fillDay(ctx, tx, sessions, on)
		return err
	})
	return out, err
}

// fillDay reads what belongs to the sessions of one day, in one query for each
// kind of thing however many sessions there are.
func (s *Service) fillDay(ctx context.Context, tx *pg.Tx, sessions []Session, on time.Time) ([]SessionDay, error) {
	ids := make([]uuid.UUID, len(sessions))
	for i, s := range sessions {
		ids[i] = s.ID
	}
	if len(ids) == 0 {
		return nil, nil
	}
	var b pgx.Batch
	var groups []Group
	var parts []Participant
	var centres []centre
	args := pgx.StrictNamedArgs{"ids": ids}
	pg.Queue(&b, &groups, groupsSQL, args)
	pg.Queue(&b, &parts, participantsSQL, args)
	pg.Queue(&b, &centres, centreSQL, pgx.StrictNamedArgs{})
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	c := centres[0]
	people, err := peopleOn(ctx, tx, personIDs(parts), on)
	if err != nil {
		return nil, err
	}
	outdated, err := s.toldOtherwise(ctx, tx, ids...)
	if err != nil {
		return nil, err
	}
	demands := c.demands(on)
	out := make([]SessionDay, len(sessions))
	for i, s := range sessions {
		d := SessionDay{Session: s}
		for _, g := range groups {
			if g.SessionID == s.ID {
				d.Groups = append(d.Groups, g)
				d.Findings = append(d.Findings, ofGroup(s, g)...)
			}
		}
		asOpened := s
		asOpened.State = UnderWay // people are judged as at the opening
		for _, p := range parts {
			if p.SessionID != s.ID {
				continue
			}
			d.Participants = append(d.Participants, p)
			if p.Counted && (s.State == Planned || s.State == UnderWay) {
				d.Findings = append(d.Findings, judgePerson(demands, people[p.PersonID], asOpened, p.Role)...)
				d.Findings = append(d.Findings, outdated[p.ID]...)
			}
		}
		out[i] = d
	}
	return out, nil
}

// ofGroup gives what is to be said of a group today: what the ratio rule found,
// and, for one in the water that is not cleared, to end the dive.
func ofGroup(s Session, g Group) finding.List {
	found := g.Found()
	if g.Cleared || s.State != UnderWay || !s.InWater() {
		return found
	}
	f := EndTheDive.Of("Group "+g.Name+" is in the water and not cleared: end the dive.", finding.Subject{Type: "group", ID: g.ID.String()})
	f.Limit, f.Found = finding.Count(g.Places, "students"), finding.Count(g.Students, "students")
	f.Cures = []finding.Cure{{Code: "end_dive", Message: "End the dive as the instructor in charge decides."},
		{Code: "regroup", Message: "Put the group right: move students, or add crew who are there."}}
	return append(finding.List{f}, found...)
}

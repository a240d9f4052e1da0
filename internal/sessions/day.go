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
	"tankside/internal/roster"
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
	Findings     finding.List // what speaks against going ahead
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
	if len(sessions) == 0 {
		return nil, nil
	}
	ids := make([]uuid.UUID, len(sessions))
	for i, s := range sessions {
		ids[i] = s.ID
	}
	var b pgx.Batch
	var groups []Group
	var parts []Participant
	var centres []centre
	var people []personRow
	var t told
	args := pgx.StrictNamedArgs{"ids": ids}
	pg.Queue(&b, &groups, groupsSQL, args)
	pg.Queue(&b, &parts, participantsSQL, args)
	pg.Queue(&b, &centres, centreSQL, pgx.StrictNamedArgs{})
	pg.Queue(&b, &people, peopleSQL+`IN (SELECT p.person_id FROM participant p WHERE p.centre_id = app_centre() AND p.session_id = ANY (@ids))`,
		pgx.StrictNamedArgs{"ids": ids, "day": on})
	pg.Queue(&b, &t.briefed, briefedSQL, args)
	err := tx.Send(ctx, &b)
	if err != nil {
		return nil, err
	}
	if err := s.readFound(ctx, tx, &t, ids...); err != nil {
		return nil, err
	}
	heads, err := headsOf(ctx, tx, sessions)
	if err != nil {
		return nil, err
	}
	out := make([]SessionDay, len(sessions))
	for i, s := range sessions {
		out[i] = sessionDay(s, groups, parts)
		out[i].Findings = append(out[i].Findings, heads[s.ID]...)
	}
	return out, s.judgeDay(ctx, tx, out, ready{centres[0].demands(on), byID(people, on), t})
}

// sessionDay picks what belongs to a session, with what is to be said of its
// groups.
func sessionDay(s Session, groups []Group, parts []Participant) SessionDay {
	d := SessionDay{Session: s}
	for _, g := range groups {
		if g.SessionID == s.ID {
			d.Groups = append(d.Groups, g)
			d.Findings = append(d.Findings, g.Found()...)
		}
	}
	for _, p := range parts {
		if p.SessionID == s.ID {
			d.Participants = append(d.Participants, p)
		}
	}
	return d
}

// ready is what people of a day are judged by.
type ready struct {
	demands roster.Demands
	people  map[uuid.UUID]person
	told    told
}

// judgeDay adds what its opening would find of a session that is planned. What was
// learned before is not asked again once it is under way: whoever joins it is
// judged then, and whoever comes unexpected at the time in.
func (s *Service) judgeDay(ctx context.Context, tx *pg.Tx, day []SessionDay, r ready) error {
	var students []Entrant
	for i := range day {
		d := &day[i]
		if d.Session.State != Planned && d.Session.State != UnderWay {
			continue
		}
		if d.Session.State == Planned && d.Session.InWater() {
			d.Findings = append(d.Findings, r.told.pressures.Open[d.Session.ID]...)
		}
		asOpened := d.Session
		asOpened.State = UnderWay // people are judged as at the opening
		for _, p := range d.Participants {
			if !p.Counted {
				continue
			}
			d.Findings = append(d.Findings, judgePerson(r.demands, r.people[p.PersonID], asOpened, p.Role)...)
			if d.Session.InWater() {
				d.Findings = append(d.Findings, r.told.lacks(p)...)
			}
			if d.Session.State == Planned && p.Role == Student {
				students = append(students, Entrant{d.Session.ID, *p.EnrolmentID})
			}
		}
	}
	unlearned, err := s.notLearned(ctx, tx, students)
	for i := range day {
		day[i].Findings = append(day[i].Findings, unlearned[day[i].Session.ID]...)
	}
	return err
}

package standing

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// Entrant is a student who is about to get into the water of a session.
type Entrant struct {
	SessionID   uuid.UUID
	EnrolmentID uuid.UUID
}

// Prerequisites judges by session, for its planned dives in their order, whether what
// the students learned before lets them get into the water. It is a plan: a dive
// counts as done for the one after it.
func (s *Reader) Prerequisites(ctx context.Context, tx *pg.Tx, students []Entrant) (map[uuid.UUID]finding.List,
	error) {
	in, all, err := s.readEntering(ctx, tx, students)
	if err != nil {
		return nil, err
	}
	out := map[uuid.UUID]finding.List{}
	for _, x := range students {
		e, known := all[x.EnrolmentID]
		to, there := in[x.SessionID]
		switch {
		case !known:
			return nil, fault.NoSuch("enrolment")
		case !there:
			return nil, fault.NoSuch("session")
		case to.Kind != syllabus.Theory:
			out[x.SessionID] = append(out[x.SessionID], mayEnter(*to, *e)...)
		}
	}
	return out, nil
}

// entered is a session with its planned dives.
type entered struct {
	Session
	dives []dayview.Dive
}

// readEntering reads, in one round trip, the sessions and what their students
// have learned.
func (s *Reader) readEntering(ctx context.Context, tx *pg.Tx, students []Entrant) (map[uuid.UUID]*entered,
	map[uuid.UUID]*Enrolment, error) {
	sessions, enrolments := make([]uuid.UUID, len(students)), make([]uuid.UUID, len(students))
	for i, x := range students {
		sessions[i], enrolments[i] = x.SessionID, x.EnrolmentID
	}
	var b pgx.Batch
	var rows []Session
	var dives []struct {
		SessionID uuid.UUID
		dayview.Dive
	}
	args := pgx.StrictNamedArgs{"sessions": sessions}
	pg.QueueRows(&b, &rows, sessionsSQL, args)
	pg.QueueRows(&b, &dives, `
		SELECT d.session_id, d.id, d.number, d.training_dive
		FROM (SELECT DISTINCT unnest(@sessions::uuid[]) AS id) w
		CROSS JOIN LATERAL (
			SELECT *
			FROM sessions_dive d
			WHERE d.centre_id = app_centre() AND d.session_id BETWEEN w.id AND w.id
			ORDER BY d.session_id) d
		ORDER BY d.session_id, d.number`, args)
	r := Queue(&b, enrolments)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, nil, err
	}
	in := make(map[uuid.UUID]*entered, len(rows))
	for _, row := range rows {
		in[row.ID] = &entered{Session: row}
	}
	for _, d := range dives {
		in[d.SessionID].dives = append(in[d.SessionID].dives, d.Dive)
	}
	all, err := s.Compose(ctx, tx, r)
	return in, all, err
}

func mayEnter(to entered, e Enrolment) finding.List {
	var found finding.List
	standing := *e.Standing
	standing.Dives = append([]syllabus.DiveDone{}, standing.Dives...)
	dives := to.dives
	if len(dives) == 0 {
		dives = []dayview.Dive{{}} // whoever gets in is judged, planned or not
	}
	for _, d := range dives {
		if e.Been[d.ID] {
			continue
		}
		c := syllabus.DiveRequest{Syllabus: e.Syllabus, Standing: standing, Setting: to.Kind, On: to.Day(),
			Age: e.Age(to.OnDay), SiteMax: to.SiteMax()}
		if to.Kind == syllabus.Open {
			c.Number = numbered(e.Syllabus, standing, d)
		}
		found = append(found, ForStudent(e, syllabus.MayDive(c))...)
		if c.Number > 0 {
			standing.Dives = append(standing.Dives, AsPlanned(e.Syllabus, c))
		}
	}
	return found
}

// numbered returns the training dive that an open-water dive is judged as: its
// own; for one without a number the student's next, the last when all are done.
func numbered(y syllabus.Syllabus, st syllabus.Standing, d dayview.Dive) int {
	if d.TrainingDive != nil {
		return *d.TrainingDive
	}
	if n := syllabus.NextDive(y, st); n > 0 || len(y.Dives) == 0 {
		return n
	}
	return y.Dives[len(y.Dives)-1].Number
}

// AsPlanned is a dive as it counts if it is done as planned.
func AsPlanned(y syllabus.Syllabus, c syllabus.DiveRequest) syllabus.DiveDone {
	d := syllabus.DiveDone{ID: "planned", Number: c.Number, Age: c.Age, On: c.On,
		Duration: syllabus.QuantityOf(60, units.UnitMinute)}
	if t := y.Dive(c.Number); t != nil {
		d.Depth = syllabus.DepthLimit(y, c.Number, c.Age, c.SiteMax).Depth
		if !t.LeastDuration.IsZero() {
			d.Duration = t.LeastDuration
		}
	}
	return d
}

// ForStudent puts the student's name before each message: the findings of a whole
// group are read together.
func ForStudent(e Enrolment, l finding.List) finding.List {
	for i := range l {
		l[i].Message = e.Name + ": " + l[i].Message
		l[i] = l[i].With("person", finding.Person(e.PersonID, e.Name))
		l[i].Subjects = append(l[i].Subjects, finding.Subject{Type: "person", ID: e.PersonID.String()})
	}
	return l
}

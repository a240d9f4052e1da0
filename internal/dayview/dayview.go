// Package dayview is the one read model of a session: the session with its course,
// site and water, what the centre asks of people, groups, participants with their
// persons, papers and marks, the roll calls and conditions as they were witnessed,
// and what participants were told or have planned: everything that a session is
// judged by, read in one batch of statements however many sessions there are.
//
// It owns no table and writes none. It reads the tables of their owners, and is the
// one package that may. Each statement starts from the ids that it is asked for and
// reaches every further row by its key (see sql.go), so that no plan begins with the
// whole centre, not even in a database without statistics. It must not know a rule's
// judgement: the features judge, by what it has read.
//
// What is judged is read after the last lock. A caller may queue its locks and a
// Query in one batch: each statement sees what was committed before it began.
package dayview

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
)

// Parts are the parts of a View that a Query asks for beside the session, its
// groups and its participants, which are always read.
type Parts uint

// The parts of a view.
const (
	People   Parts = 1 << iota // the centre's settings; persons with papers and marks
	Called                     // roll calls
	Agreed                     // the centre's settings; briefings and confirmed gas plans
	Taught                     // by which syllabus each student is taught
	reported                   // what Facts has beside Called
	beside                     // what Told has beside Agreed
)

// Facts is Called with reports of conditions.
const Facts = Called | reported

// Told is Agreed with whom plans have somebody share gas with, open gas plans, what birth
// dates were corrected since, and times in.
const Told = Agreed | beside

// Everything is all parts of a view.
const Everything = People | Facts | Told | Taught

// Query names the sessions to read, and what of them. The sessions of Sessions, of
// Dive, of Plan and of Person are read together.
type Query struct {
	Sessions []uuid.UUID
	Dive     *uuid.UUID // the session that has this dive
	Plan     *uuid.UUID // the session that this gas plan is for
	Person   *uuid.UUID // the sessions in which this person takes part on the day On
	On       *time.Time
	Also     []uuid.UUID // persons who are read beside the participants, such as a witness
	Want     Parts
}

// View is one session with everything that it is judged by, as far as its Query
// asked for it.
type View struct {
	Session
	Course       Course
	Site         Site
	Centre       Centre
	Groups       []Group              // in the order of their creation
	Participants []Participant        // who is in charge first, then crew, then students by name
	People       map[uuid.UUID]Person // by id: of the participants, and whom the query named
	Calls        []Call               // by witnessed time; voided ones included
	Reports      []Report             // by witnessed time; standing ones only
	Briefings    Briefings
	Plans        []Plan    // confirmed ones by turn, one row for each person
	Sharing      []Sharing // of confirmed plans that were not withdrawn
	OpenPlans    []OpenPlan
	Aged         []Aged     // judged before a birth date was corrected
	Log          []TimeIn   // standing times in, by witnessed time
	Taught       []Teaching // of the students
}

// Rows are what a Query queued in a batch; Views composes them once it was sent.
type Rows struct {
	sessions  []sessionRow
	groups    []Group
	parts     []Participant
	centres   []Centre
	people    []personRow
	calls     []Call
	reports   []Report
	briefings []Briefing
	plans     []Plan
	sharing   []Sharing
	open      []OpenPlan
	aged      []Aged
	log       []TimeIn
	taught    []Teaching
}

// Queue adds the statements of the query to a batch.
func (q Query) Queue(b *pgx.Batch) *Rows {
	r, args := &Rows{}, q.args()
	pg.QueueRows(b, &r.sessions, sessionsSQL, args)
	pg.QueueRows(b, &r.groups, groupsSQL, args)
	pg.QueueRows(b, &r.parts, participantsSQL, args)
	if q.Want&(People|Agreed) != 0 {
		pg.QueueRows(b, &r.centres, centreSQL, pgx.StrictNamedArgs{})
	}
	if q.Want&People != 0 {
		pg.QueueRows(b, &r.people, peopleSQL,
			pgx.StrictNamedArgs{"ids": args["ids"], "dive": q.Dive, "plan": q.Plan,
				"person": q.Person, "on": q.On, "also": q.Also})
	}
	if q.Want&Called != 0 {
		pg.QueueRows(b, &r.calls, callsSQL, args)
	}
	if q.Want&reported != 0 {
		pg.QueueRows(b, &r.reports, reportsSQL, args)
	}
	if q.Want&Agreed != 0 {
		pg.QueueRows(b, &r.briefings, briefingsSQL, args)
		pg.QueueRows(b, &r.plans, plansSQL, args)
	}
	if q.Want&beside != 0 {
		pg.QueueRows(b, &r.sharing, sharingSQL, args)
		pg.QueueRows(b, &r.open, openPlansSQL, args)
		pg.QueueRows(b, &r.aged, agedSQL, args)
		pg.QueueRows(b, &r.log, logSQL, args)
	}
	if q.Want&Taught != 0 {
		pg.QueueRows(b, &r.taught, taughtSQL, args)
	}
	return r
}

// args returns the arguments by which the statements choose sessions.
func (q Query) args() pgx.StrictNamedArgs {
	ids := slices.Clone(q.Sessions)
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	return pgx.StrictNamedArgs{"ids": slices.Compact(ids), "dive": q.Dive, "plan": q.Plan,
		"person": q.Person, "on": q.On}
}

// Views returns the sessions that were read, by start and id. A session that does
// not exist is left out.
func (r *Rows) Views() []View {
	out := make([]View, len(r.sessions))
	for i, s := range r.sessions {
		v := View{Session: s.Session, Course: s.Course, Site: s.Site, People: map[uuid.UUID]Person{}}
		if len(r.centres) > 0 {
			v.Centre = r.centres[0]
		}
		v.Groups = of(r.groups, s.ID, func(x Group) uuid.UUID { return x.SessionID })
		v.Participants = of(r.parts, s.ID, func(x Participant) uuid.UUID { return x.SessionID })
		for _, p := range of(r.people, s.ID, func(x personRow) uuid.UUID { return *x.SessionID }) {
			v.People[p.ID] = p.person(s.OnDay)
		}
		v.Calls = of(r.calls, s.ID, func(x Call) uuid.UUID { return x.SessionID })
		v.Reports = of(r.reports, s.ID, func(x Report) uuid.UUID { return x.SessionID })
		v.Briefings = of(r.briefings, s.ID, func(x Briefing) uuid.UUID { return x.SessionID })
		v.Plans = of(r.plans, s.ID, func(x Plan) uuid.UUID { return x.SessionID })
		v.Sharing = of(r.sharing, s.ID, func(x Sharing) uuid.UUID { return x.SessionID })
		v.OpenPlans = of(r.open, s.ID, func(x OpenPlan) uuid.UUID { return x.SessionID })
		v.Aged = of(r.aged, s.ID, func(x Aged) uuid.UUID { return x.SessionID })
		v.Log = of(r.log, s.ID, func(x TimeIn) uuid.UUID { return x.SessionID })
		v.Taught = of(r.taught, s.ID, func(x Teaching) uuid.UUID { return x.SessionID })
		out[i] = v
	}
	return out
}

// View returns the one session that was read. Fault: not_found where there is none.
func (r *Rows) View() (View, error) {
	all := r.Views()
	if len(all) == 0 {
		return View{}, fault.NoSuch("session")
	}
	return all[0], nil
}

// of returns the rows of one session, in their order.
func of[T any](rows []T, session uuid.UUID, where func(T) uuid.UUID) (out []T) {
	for _, r := range rows {
		if where(r) == session {
			out = append(out, r)
		}
	}
	return out
}

// Read reads the sessions of a query in one round trip.
func Read(ctx context.Context, tx *pg.Tx, q Query) ([]View, error) {
	var b pgx.Batch
	rows := q.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	return rows.Views(), nil
}

// One reads one session in one round trip. Fault: not_found.
func One(ctx context.Context, tx *pg.Tx, session uuid.UUID, want Parts) (View, error) {
	var b pgx.Batch
	rows := Query{Sessions: []uuid.UUID{session}, Want: want}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return View{}, err
	}
	return rows.View()
}

// Participant returns the participant of that id, and whether the session has one.
func (v View) Participant(id uuid.UUID) (Participant, bool) {
	for _, p := range v.Participants {
		if p.ID == id {
			return p, true
		}
	}
	return Participant{}, false
}

// PartOf returns the part that a person has in the session, and whether there is
// one.
func (v View) PartOf(person uuid.UUID) (Participant, bool) {
	for _, p := range v.Participants {
		if p.PersonID == person {
			return p, true
		}
	}
	return Participant{}, false
}

// Group returns the group of that id, and whether the session has one.
func (v View) Group(id uuid.UUID) (Group, bool) {
	for _, g := range v.Groups {
		if g.ID == id {
			return g, true
		}
	}
	return Group{}, false
}

// Persons returns the ids of the participants' persons, in their order.
func (v View) Persons() []uuid.UUID {
	out := make([]uuid.UUID, len(v.Participants))
	for i, p := range v.Participants {
		out[i] = p.PersonID
	}
	return out
}

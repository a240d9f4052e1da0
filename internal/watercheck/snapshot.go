package watercheck

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterview"
	"tankside/internal/when"
)

// TrainingDive returns the number of the training dive that a dive of the session
// is, 0 for none.
func TrainingDive(dives []dayview.Dive, id *uuid.UUID, pointer string) (int, error) {
	if id == nil {
		return 0, nil
	}
	for _, d := range dives {
		if d.ID == *id {
			if d.TrainingDive == nil {
				return 0, nil
			}
			return *d.TrainingDive, nil
		}
	}
	return 0, fault.UnknownReference("dive of this session", pointer)
}

// LessonFor returns the syllabus by which an attempt is judged when it is recorded. By
// which enrolment an unexpected student takes part may turn out otherwise: the
// session's own syllabus is the same whatever is known by then.
func LessonFor(l standing.Lessons, p Participant) syllabus.Syllabus {
	if len(p.Said) == 0 {
		return l.Of(*p.EnrolmentID)
	}
	return l.Syllabuses[l.Own]
}

// Participant is a participant as entries about them are judged.
type Participant struct {
	ID           uuid.UUID
	GroupID      *uuid.UUID
	PersonID     uuid.UUID
	EnrolmentID  *uuid.UUID
	Role         string
	GaugeUnit    units.Unit
	Attendance   string
	AttendanceAt *time.Time // of the roll call that says so
	Name         string
	BirthOn      time.Time
	Cleared      *bool     // of the group
	Said         []arrival // of somebody who came unexpected: what each roll call says
}

// participantOf returns a participant of a session that was read. The birth date is known
// where people were read.
func participantOf(v dayview.View, p dayview.Participant) Participant {
	out := Participant{ID: p.ID, GroupID: p.GroupID, PersonID: p.PersonID, EnrolmentID: p.EnrolmentID,
		Role:      string(p.Role),
		GaugeUnit: p.GaugeUnit, Attendance: string(p.Attendance), AttendanceAt: p.AttendanceAt,
		Name:    p.PersonName,
		BirthOn: v.People[p.PersonID].BirthOn, Said: arrivalsOf(v, p)}
	if p.GroupID != nil {
		if g, there := v.Group(*p.GroupID); there {
			out.Cleared = &g.Cleared
		}
	}
	return out
}

// named returns the person as a message calls them.
func (p Participant) named() finding.Named { return finding.Person(p.PersonID, p.Name) }

// age returns the age on the session's day.
func (p Participant) age(s standing.Session) syllabus.Years {
	return syllabus.Years(when.Age(p.BirthOn, s.OnDay))
}

// Snapshot is a session with its participants and planned dives, as entries about it are
// judged.
type Snapshot struct {
	View     dayview.View
	Session  standing.Session
	Parts    map[uuid.UUID]Participant
	dives    []dayview.Dive
	managers []uuid.UUID          // of those whom the entries name as witnesses
	Before   map[uuid.UUID][]byte // digests of entries that were recorded before
	stillIn  []waterview.StillIn  // who was in the water when the session ended
}

// Mentions are the ids of entries, and the witnesses whom they name: what is read of them
// beside their session.
type Mentions struct{ ids, witnesses []uuid.UUID }

// MentionsOf returns what entries mention; of returns the id of one, and the witness whom it
// names, nil for the caller.
func MentionsOf[I any](items []I, of func(I) (id uuid.UUID, witness *uuid.UUID)) Mentions {
	var a Mentions
	for _, item := range items {
		id, witness := of(item)
		a.ids = append(a.ids, id)
		if witness != nil {
			a.witnesses = append(a.witnesses, *witness)
		}
	}
	return a
}

// facts are what a snapshot has beside the view of its session.
type facts struct {
	stillIn  []waterview.StillIn
	used     []journal.Used
	managers []uuid.UUID
}

// queue reads them in a batch.
func (f *facts) queue(b *pgx.Batch, session uuid.UUID, a Mentions) {
	waterview.QueueStillIn(b, &f.stillIn, session)
	if len(a.ids) > 0 {
		journal.QueueUsed(b, &f.used, a.ids)
	}
	if len(a.witnesses) > 0 {
		pg.QueueRows(b, &f.managers, `
			SELECT id
			FROM people_person
			WHERE centre_id = app_centre() AND id = ANY (@ids) AND 'manager' = ANY (roles)`,
			pgx.StrictNamedArgs{"ids": a.witnesses})
	}
}

// newSnapshot returns the snapshot of a session that was read with dayview.Called.
func newSnapshot(v dayview.View, f facts) Snapshot {
	st := Snapshot{View: v, Session: standing.SessionOf(v), Parts: make(map[uuid.UUID]Participant, len(v.Participants)),
		dives: v.Dives, managers: f.managers, Before: journal.ByID(f.used), stillIn: f.stillIn}
	for _, p := range v.Participants {
		st.Parts[p.ID] = participantOf(v, p)
	}
	return st
}

// ReadSnapshot reads a session with its roll calls, further parts of its view and what
// entries mention, in one round trip, with what more queues. Fault: not_found.
func ReadSnapshot(ctx context.Context, tx *pg.Tx, id uuid.UUID, want dayview.Parts, a Mentions,
	more ...func(*pgx.Batch)) (Snapshot, error) {
	var b pgx.Batch
	var f facts
	rows := dayview.Query{Sessions: []uuid.UUID{id}, Want: want | dayview.Called}.Queue(&b)
	f.queue(&b, id, a)
	for _, queue := range more {
		queue(&b)
	}
	if err := tx.Send(ctx, &b); err != nil {
		return Snapshot{}, err
	}
	v, err := rows.View()
	if err != nil {
		return Snapshot{}, err
	}
	return newSnapshot(v, f), nil
}

// Entry returns the header of an entry about a participant, with what is found of it beside
// other facts.
func (st Snapshot) Entry(k journal.Kind, p Participant, saw uuid.UUID, at time.Time, found finding.List) journal.Entry {
	return journal.Entry{Also: st.notHeld(k, p, at), Kind: k, Session: &st.Session.ID,
		Outing: st.Session.OutingID, Participant: &p.ID, Enrolment: p.EnrolmentID,
		WitnessedBy: saw, WitnessedAt: at, Findings: found}
}

// Sighting is what an entry says of its witness.
type Sighting struct {
	By     *uuid.UUID // the caller unless said
	At     time.Time
	Member string // the name of the time in the entry
}

// Witness returns who saw it: the caller unless said. Only crew of the session, or
// a manager, can have, and not in the future. pointer is the entry's.
func (st Snapshot) Witness(by actor.Actor, now time.Time, s Sighting,
	pointer string) (uuid.UUID, error) {
	saw := by.Person
	if s.By != nil {
		saw = *s.By
	}
	manager := saw == by.Person && by.Is(actor.Manager) || slices.Contains(st.managers, saw)
	if !manager && !st.crew(saw) {
		return saw, fault.UnknownReference("crew of this session, nor a manager", pointer+"/witnessed_by")
	}
	return saw, journal.CheckTime(now, s.At, pointer+"/"+s.Member)
}

// crew reports whether somebody is of the session's crew.
func (st Snapshot) crew(person uuid.UUID) bool {
	for _, p := range st.Parts {
		if p.PersonID == person && p.crew() {
			return true
		}
	}
	return false
}

// Participant finds a participant of the session.
func (st Snapshot) Participant(id uuid.UUID, pointer string) (Participant, error) {
	p, ok := st.Parts[id]
	if !ok {
		return p, fault.UnknownReference("participant of this session", pointer)
	}
	return p, nil
}

// TrainingDive returns the number of the training dive that a dive of the session
// is, 0 for none.
func (st Snapshot) TrainingDive(id *uuid.UUID, pointer string) (int, error) {
	return TrainingDive(st.dives, id, pointer)
}

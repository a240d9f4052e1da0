// Package desk does what spans features in one transaction: creating a centre with
// its first manager; getting into the water, for which sessions ask planning and
// training; ending a course, which calls its sessions off; ending an enrolment, which
// empties places; completing one; correcting a birth date or a paper, which groups are
// judged by; voiding what was witnessed.
//
// It owns no table, and may import several features, as package offline may. It must
// not know a rule: what is allowed, the features ask the rule packages.
package desk

import (
	"context"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/dayview"
	"tankside/internal/diveday"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/people"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/planning"
	"tankside/internal/readiness"
	"tankside/internal/sessions"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/versions"
)

// Service is the desk at which several features meet.
type Service struct {
	db       *pg.DB
	centre   *centre.Service
	people   *people.Service
	courses  *courses.Service
	sessions *sessions.Service
	training *training.Service
	planning *planning.Service
}

// New returns the desk, and makes the features that judge with one another's help:
// sessions, training and planning, which Sessions, Training and Planning return.
func New(db *pg.DB, ce *centre.Service, p *people.Service, c *courses.Service) *Service {
	syllabuses := versions.New[syllabus.Syllabus]()
	out := &Service{db: db, centre: ce, people: p, courses: c, planning: planning.New(db, syllabuses)}
	out.sessions = sessions.New(db, sessions.Judges{Prerequisites: out.unlearned})
	out.training = training.New(db, syllabuses,
		training.Judges{TimesIn: out.against, Rates: diveday.Rates})
	return out
}

// Sessions returns the feature that plans sessions.
func (s *Service) Sessions() *sessions.Service { return s.sessions }

// Training returns the feature that keeps what was trained.
func (s *Service) Training() *training.Service { return s.training }

// Planning returns the feature that keeps gas plans and briefings.
func (s *Service) Planning() *planning.Service { return s.planning }

// unlearned returns, by session, what students have not learned of what comes
// before getting into the water.
func (s *Service) unlearned(ctx context.Context, tx *pg.Tx,
	students []sessions.Entrant) (map[uuid.UUID]finding.List, error) {
	in := make([]training.Entrant, len(students))
	for i, e := range students {
		in[i] = training.Entrant(e)
	}
	return s.training.MayEnter(ctx, tx, in)
}

// EndCourse cancels a course with its planned sessions, or closes one of which no
// session is planned or under way any more.
func (s *Service) EndCourse(ctx context.Context, by actor.Actor, e courses.Ending) (out courses.Course,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		// The course is locked before its sessions.
		if out, err = s.courses.EndCourse(ctx, tx, e); err != nil {
			return err
		}
		if out.State == "cancelled" {
			return s.sessions.CancelPlanned(ctx, tx, out.ID, e.Reason)
		}
		return s.sessions.MustBeOver(ctx, tx, out.ID)
	})
	return out, err
}

// Withdraw ends an enrolment with a reason and takes it off every session that
// is still planned. The findings say in whose list a record keeps the student.
func (s *Service) Withdraw(ctx context.Context, by actor.Actor, id uuid.UUID, reason string,
	version *int64) (out courses.Enrolment, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if found, err = s.sessions.Unplace(ctx, by, tx, id); err != nil {
			return err
		}
		out, err = s.courses.Withdraw(ctx, tx, id, reason, version)
		return err
	})
	return out, found, err
}

// Transfer ends an enrolment, takes it off the sessions still planned, and
// makes another on a course; what was learned goes along as credits, which an
// instructor or a manager stands for.
func (s *Service) Transfer(ctx context.Context, by actor.Actor, id, course uuid.UUID, key once.Key,
	version *int64, accept []journal.Acceptance) (out courses.Enrolment, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, again, err := s.courses.Replayed(ctx, tx, key)
		if err != nil || again {
			out, created = e, false
			return err
		}
		// The course is locked before sessions and groups.
		if err := s.courses.Hold(ctx, tx, course); err != nil {
			return err
		}
		kept, err := s.sessions.Unplace(ctx, by, tx, id)
		if err != nil {
			return err
		}
		out, found, err = s.courses.Transfer(ctx, by, tx, id, courses.NewEnrolment{Key: key, CourseID: course},
			version, accept)
		if err != nil {
			return err
		}
		if out.PersonID == by.Person {
			return fault.MissingRole("another instructor or manager: nobody transfers themselves, since what was learned goes along as credits")
		}
		created, found = true, append(kept, found...)
		return s.training.CarryCredits(ctx, by, tx, id, out.ID)
	})
	return out, found, created, err
}

// Complete signs the completion of an enrolment and makes it completed.
func (s *Service) Complete(ctx context.Context, by actor.Actor, enrolment uuid.UUID, key once.Key,
	accept []journal.Acceptance) (out training.Completion, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var again bool
		out, found, again, err = s.training.Complete(ctx, by, tx, enrolment, key, accept)
		if created = err == nil && !again; !created {
			return err
		}
		_, err = s.courses.SetState(ctx, tx, enrolment, "active", "completed")
		return err
	})
	return out, found, created, err
}

// VoidCompletion voids a completion with a reason and makes the enrolment
// active again.
func (s *Service) VoidCompletion(ctx context.Context, by actor.Actor, id uuid.UUID,
	reason string) (out training.Completion, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var again bool
		out, again, err = s.training.VoidCompletion(ctx, by, tx, id, reason)
		if err != nil || again {
			return err
		}
		_, err = s.courses.SetState(ctx, tx, out.EnrolmentID, "completed", "active")
		return err
	})
	return out, err
}

// Entry reads the header of anything witnessed; a student what concerns the
// own enrolments.
func (s *Service) Entry(ctx context.Context, by actor.Actor, id uuid.UUID) (out journal.Head, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = journal.Find(ctx, tx, id); err != nil {
			return err
		}
		if err := s.summariseOne(ctx, tx, &out); err != nil {
			return err
		}
		if out.SessionID != nil && out.VoidedAt == nil {
			found, err := s.found(ctx, tx, *out.SessionID)
			if err != nil {
				return err
			}
			out.Findings = append(out.Findings, found[id]...)
		}
		if permission.Of("getEntry", by) == permission.All {
			return nil
		}
		own, err := pg.Row[bool](ctx, tx,
			`SELECT EXISTS (SELECT FROM courses_enrolment WHERE centre_id = app_centre() AND id = @id AND person_id = @self)`,
			pgx.StrictNamedArgs{"id": out.EnrolmentID, "self": by.Person})
		if err == nil && !own {
			err = fault.NoSuch("entry")
		}
		return err
	})
	return out, err
}

// found returns what is found of each entry of a session beside other facts.
func (s *Service) found(ctx context.Context, tx *pg.Tx, session uuid.UUID) (map[uuid.UUID]finding.List, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Everything)
	if err != nil {
		return nil, err
	}
	out, err := s.training.FoundIn(ctx, tx, v)
	if err != nil {
		return nil, err
	}
	maps.Copy(out, sessions.FoundOfCalls(v)) // which training does not know
	return out, nil
}

// Entries lists the headers of what was witnessed in a session, in the order in
// which it was witnessed, with what is found of each now; kinds narrows it.
func (s *Service) Entries(ctx context.Context, by actor.Actor, session uuid.UUID, kinds []string,
	p page.Request) (out []journal.Head, next *page.Place, err error) {
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, next, err = s.sessions.Entries(ctx, tx, session, kinds, p); err != nil {
			return err
		}
		if err := s.summarise(ctx, tx, out); err != nil {
			return err
		}
		found, err := s.found(ctx, tx, session)
		for i := range out {
			out[i].Findings = append(out[i].Findings, found[out[i].ID]...)
		}
		return err
	})
	return out, next, err
}

// against returns what speaks against times in that training does not know.
func (s *Service) against(ctx context.Context, tx *pg.Tx, v dayview.View,
	in []training.InWater) (map[uuid.UUID]training.Against, error) {
	moments := make([]sessions.Moment, len(in))
	for i, t := range in {
		moments[i] = sessions.Moment{Participant: t.ParticipantID, At: t.At}
	}
	stood, err := s.sessions.StoodAt(ctx, tx, v, moments)
	if err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]training.Against, len(in))
	for i, t := range in {
		out[t.EntryID] = training.Against{Cleared: stood[i].Cleared,
			Unready: slices.Concat(stood[i].Unready, stood[i].Heads,
				readiness.OutdatedAt(v, t.ParticipantID, t.DiveID, t.At), readiness.UntoldAt(v, t.ParticipantID,
					t.DiveID, t.At))}
	}
	return out, nil
}

// LogTimesIn records who went in on a dive. It is never refused by a rule; what
// speaks against it, of groups, papers, fitness and what comes before, is found.
func (s *Service) LogTimesIn(ctx context.Context, by actor.Actor, dive uuid.UUID,
	in []training.TimeIn) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterTimesIn(ctx, by, tx, dive, in)
		return err
	})
	return out, err
}

// VoidEntry voids something witnessed with a reason: by who witnessed or
// recorded it, by an instructor or by a manager. What rests on it is put right
// or stands flagged. Again does no harm.
func (s *Service) VoidEntry(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out journal.Head,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		head, err := journal.Find(ctx, tx, id)
		if err != nil {
			return err
		}
		own := head.WitnessedBy == by.Person || head.RecordedBy != nil && *head.RecordedBy == by.Person
		if !own && permission.Of("voidEntry", by) < permission.All {
			return permission.Refusal("voidEntry", by)
		}
		if head.EnrolmentID != nil {
			if err := s.training.NotOwn(ctx, by, tx, *head.EnrolmentID); err != nil {
				return err
			}
		}
		if head.SessionID != nil {
			if err := s.sessions.Hold(ctx, tx, *head.SessionID); err != nil {
				return err
			}
		}
		if head.VoidedAt == nil {
			if err := journal.Void(ctx, by, tx, head, reason); err != nil {
				return err
			}
			if err := s.sessions.VoidEntry(ctx, by, tx, head); err != nil {
				return err
			}
		}
		if out, err = journal.Find(ctx, tx, id); err != nil {
			return err
		}
		return s.summariseOne(ctx, tx, &out)
	})
	return out, err
}

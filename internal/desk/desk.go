// Package desk does what spans features in one transaction: creating a centre with
// its first manager; getting into the water, for which sessions, plans and briefings are
// asked; ending a course, which calls its sessions off; ending an enrolment, which
// empties places; completing one; correcting a birth date or a paper, which groups are
// judged by; voiding what was witnessed.
//
// It owns no table, and may import several features, as package offline may. It must
// not know a rule: what is allowed, the features ask the rule packages.
package desk

import (
	"context"
	"maps"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/briefings"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/people"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/plans"
	"tankside/internal/planview"
	"tankside/internal/sessions"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
)

// Service is the desk at which several features meet.
type Service struct {
	db         *pg.DB
	centre     *centre.Service
	people     *people.Service
	courses    *courses.Service
	sessions   *sessions.Service
	waterlog   *waterlog.Service
	gaswatch   *gaswatch.Service
	assessment *assessment.Service
	plans      *plans.Service
	briefings  *briefings.Service
	check      *watercheck.Checker
}

// New returns the desk, and makes the features that read syllabuses through one cache,
// which the methods named after them return.
func New(db *pg.DB, ce *centre.Service, p *people.Service, c *courses.Service) *Service {
	syllabuses := versions.New[syllabus.Syllabus]()
	standings := standing.New(syllabuses)
	watch := gaswatch.New(db, standings)
	judged := planview.New(syllabuses)
	return &Service{db: db, centre: ce, people: p, courses: c,
		sessions:   sessions.New(db, standings),
		waterlog:   waterlog.New(db, standings, watch),
		gaswatch:   watch,
		assessment: assessment.New(db, standings),
		plans:      plans.New(db, judged),
		briefings:  briefings.New(db, judged),
		check:      watercheck.New(standings, watch)}
}

// Sessions returns the feature that plans sessions.
func (s *Service) Sessions() *sessions.Service { return s.sessions }

// Waterlog returns the feature that records what was witnessed in the water.
func (s *Service) Waterlog() *waterlog.Service { return s.waterlog }

// Gaswatch returns the watch on the gas of participants.
func (s *Service) Gaswatch() *gaswatch.Service { return s.gaswatch }

// Assessment returns the feature that keeps what was assessed.
func (s *Service) Assessment() *assessment.Service { return s.assessment }

// Plans returns the feature that keeps gas plans.
func (s *Service) Plans() *plans.Service { return s.plans }

// Briefings returns the feature that keeps conventions and briefings.
func (s *Service) Briefings() *briefings.Service { return s.briefings }

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
		return s.assessment.CarryCredits(ctx, by, tx, id, out.ID)
	})
	return out, found, created, err
}

// Complete signs the completion of an enrolment and makes it completed.
func (s *Service) Complete(ctx context.Context, by actor.Actor, enrolment uuid.UUID, key once.Key,
	accept []journal.Acceptance) (out assessment.Completion, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var again bool
		out, found, again, err = s.assessment.Complete(ctx, by, tx, enrolment, key, accept)
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
	reason string) (out assessment.Completion, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var again bool
		out, again, err = s.assessment.VoidCompletion(ctx, by, tx, id, reason)
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

// found returns what is found of each entry of a session beside other facts. Fault:
// not_found.
func (s *Service) found(ctx context.Context, tx *pg.Tx, session uuid.UUID) (map[uuid.UUID]finding.List, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Everything)
	if err != nil {
		return nil, err
	}
	return s.foundIn(ctx, tx, v)
}

// foundIn is found for a session that was read with everything.
func (s *Service) foundIn(ctx context.Context, tx *pg.Tx, v dayview.View) (map[uuid.UUID]finding.List, error) {
	against, err := s.against(ctx, tx, v)
	if err != nil {
		return nil, err
	}
	out, err := s.check.Found(ctx, tx, v, against)
	if err != nil {
		return nil, err
	}
	maps.Copy(out, sessions.FoundOfCalls(v))
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
			if err := s.assessment.NotOwn(ctx, by, tx, *head.EnrolmentID); err != nil {
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

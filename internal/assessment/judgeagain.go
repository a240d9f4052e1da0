package assessment

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
)

// DecisionKinds returns the kinds of decision about skills and completion, which JudgeAgain judges.
func DecisionKinds() []string { return []string{"sign_off", "void_sign_off", "complete"} }

// JudgeAgain judges a sign-off, its void or a completion again by what it was judged on: the records
// of the enrolment that were known then, as they were known, and the signer's papers.
func (s *Service) JudgeAgain(ctx context.Context, tx *pg.Tx, made journal.Decided,
	on decision.JudgedOn) (again decision.Again, err error) {
	all, err := s.standings.Read(ctx, tx, []uuid.UUID{made.SubjectID})
	if err != nil {
		return again, err
	}
	e, there := all[made.SubjectID]
	if !there {
		return again, fault.NoSuch("enrolment")
	}
	switch {
	case on.SignOff != nil:
		again, err = s.signAgain(ctx, tx, e, *on.SignOff)
		again.Findings = again.Findings.InSession(on.SignOff.SessionID.String())
	case on.Void != nil:
		again, err = s.voidAgain(ctx, tx, e, *on.Void)
	case on.Completion != nil:
		again, err = s.completeAgain(ctx, tx, e, *on.Completion)
	default:
		err = fmt.Errorf("decision %s does not say what a %s was judged on", made.ID, made.Kind)
	}
	return again, err
}

// standingThen returns the standing of an enrolment as it was judged, with the syllabus of its day, and
// notes what differs.
func (s *Service) standingThen(ctx context.Context, tx *pg.Tx, e *standing.Enrolment, kept decision.Standing,
	v standing.Version, again *decision.Again) (st syllabus.Standing, y syllabus.Syllabus, err error) {
	if y, err = s.standings.Syllabus(ctx, tx, v); err != nil {
		return st, y, err
	}
	st, missing := kept.Of(*e.Standing)
	for _, id := range missing {
		again.Differs = append(again.Differs, fmt.Sprintf("Record %s is there no longer.", id))
	}
	for i, x := range st.SignOffs {
		if x.ByRule { // rests on the attempts that counted
			st.SignOffs[i].Evidence = syllabus.Evidence(y, st, x.Skill, x.On, e.Day(x.Signed))
		}
	}
	for _, id := range voidedSince(kept, decision.StandingOf(*e.Standing)) {
		again.Since = append(again.Since, fmt.Sprintf("Record %s was voided.", id))
	}
	return st, y, nil
}

// voidedSince returns the ids of records that stood when they were judged on and are voided now.
func voidedSince(kept, now decision.Standing) (out []string) {
	for _, id := range now.Voided {
		if kept.Has(id) && !slices.Contains(kept.Voided, id) {
			out = append(out, id)
		}
	}
	return out
}

// papersThen notes which papers of a signer are there no longer or say otherwise than they did, and
// which were voided since.
func papersThen(ctx context.Context, tx *pg.Tx, by decision.Signer, again *decision.Again) error {
	ids := make([]uuid.UUID, len(by.Papers))
	for i, p := range by.Papers {
		ids[i] = p.ID
	}
	now, err := dayview.ReadPapers(ctx, tx, ids)
	if err != nil {
		return err
	}
	for _, p := range by.Papers {
		i := slices.IndexFunc(now, func(x dayview.RecordedPaper) bool { return x.ID == p.ID.String() })
		until := syllabus.Day("")
		if p.ValidUntil != nil {
			until = *p.ValidUntil
		}
		switch {
		case i < 0:
			again.Differs = append(again.Differs, fmt.Sprintf("Paper %s is there no longer.", p.ID))
		case string(now[i].Kind) != string(p.Kind) || string(now[i].IssuedOn) != string(p.IssuedOn) ||
			string(now[i].ValidUntil) != string(until) || now[i].PersonID != by.PersonID:
			again.Differs = append(again.Differs,
				fmt.Sprintf("Paper %s is not the one that was judged by: a paper never changes.", p.ID))
		case now[i].VoidedAt != nil:
			again.Since = append(again.Since, fmt.Sprintf("Paper %s was voided on %s.", p.ID,
				now[i].VoidedAt.UTC().Format(time.DateOnly)))
		}
	}
	return nil
}

func (s *Service) signAgain(ctx context.Context, tx *pg.Tx, e *standing.Enrolment,
	on decision.SignOff) (again decision.Again, err error) {
	st, y, err := s.standingThen(ctx, tx, e, on.Standing,
		standing.Version{SyllabusID: on.SyllabusID, SyllabusNo: on.SyllabusNumber}, &again)
	if err != nil {
		return again, err
	}
	if err := papersThen(ctx, tx, on.Signer, &again); err != nil {
		return again, err
	}
	again.Findings = syllabus.MaySign(syllabus.SignOffRequest{Syllabus: y, Skill: on.Skill, Standing: st,
		Signer: on.Signer.Rules(), On: on.WitnessedOn, SignedOn: on.SignedOn, Absent: on.Absent,
		Dive: on.TrainingDive, Evidence: on.Attempts, OneOfSeveral: on.FromWater,
		Session: syllabus.Session{ID: on.SessionID.String(), Setting: on.Setting, State: on.SessionState}})
	return again, nil
}

func (s *Service) voidAgain(ctx context.Context, tx *pg.Tx, e *standing.Enrolment,
	on decision.Void) (again decision.Again, err error) {
	st, y, err := s.standingThen(ctx, tx, e, on.Standing,
		standing.Version{SyllabusID: on.SyllabusID, SyllabusNo: on.SyllabusNumber}, &again)
	if err != nil {
		return again, err
	}
	reason, there, err := pg.OptionalRow[string](ctx, tx, `SELECT reason
		FROM sign_off_void
		WHERE centre_id = app_centre() AND sign_off_id = @id`, pgx.StrictNamedArgs{"id": on.SignOffID})
	if err == nil && !there {
		again.Differs = append(again.Differs, "The void is there no longer.")
	}
	again.Findings = syllabus.MayVoid(syllabus.VoidRequest{Syllabus: y, Standing: st, By: on.By.Rules(),
		Reason: reason, SignOff: syllabus.SignOff{ID: on.SignOffID.String(), Skill: on.Skill,
			Signer: on.SignedBy.String()}})
	return again, err
}

func (s *Service) completeAgain(ctx context.Context, tx *pg.Tx, e *standing.Enrolment,
	on decision.Completion) (again decision.Again, err error) {
	st, y, err := s.standingThen(ctx, tx, e, on.Standing,
		standing.Version{SyllabusID: on.SyllabusID, SyllabusNo: on.SyllabusNumber}, &again)
	if err != nil {
		return again, err
	}
	if err := papersThen(ctx, tx, on.Signer, &again); err != nil {
		return again, err
	}
	again.Findings = syllabus.MayComplete(syllabus.CompletionRequest{Syllabus: y, Standing: st,
		Signer: on.Signer.Rules(), Age: on.Age, On: on.On})
	return again, nil
}

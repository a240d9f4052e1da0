package plans

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/decision"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/planview"
	"tankside/internal/readiness"
)

// DecisionKinds returns the kinds of decision about gas plans, which JudgeAgain judges.
func DecisionKinds() []string { return []string{"confirm_plan"} }

// JudgeAgain works a plan out again from what was known when it was confirmed.
func JudgeAgain(ctx context.Context, tx *pg.Tx, made journal.Decided,
	kept decision.JudgedOn) (again decision.Again, err error) {
	if kept.GasPlan == nil {
		return again, fmt.Errorf("decision %s does not say which gas plan it was judged on", made.ID)
	}
	on := *kept.GasPlan
	p, err := find(ctx, tx, on.PlanID)
	if err != nil {
		return again, err
	}
	names, err := namesOf(ctx, tx, on)
	if err != nil {
		return again, err
	}
	in, s := withNames(on, names)
	now, err := gasplan.Calculate(in)
	if err != nil {
		return again, fmt.Errorf("work plan %s out again: %w", on.PlanID, err)
	}
	for _, b := range on.RuleBooks {
		if !slices.Contains(now.RuleBooks, b) {
			again.Differs = append(again.Differs,
				fmt.Sprintf("This release does not judge by version %s of %s.", b.Version, b.Name))
		}
	}
	found := aboutPlan(on.PlanID, append(slices.Clone(now.Findings), judge(s, p.Asked)...))
	again.Findings = slices.Concat(found, overtaken(p.Result, now)).InSession(made.SubjectID.String())
	again.Judges = func(rule string) bool { return rule != readiness.BriefAgain.ID }
	again.LeftOut = "Whether people were to be briefed again is not judged again: what they had been told is not " +
		"kept with the decision."
	return again, nil
}

// withNames returns the input of a plan as it was, and the session as far as its plan was
// judged by it, with the names of the divers.
func withNames(on decision.GasPlan, names map[uuid.UUID]string) (gasplan.Input, planview.Session) {
	in, s := on.Input, planview.Session{Divers: map[uuid.UUID]planview.Diver{}}
	if in.Centre != nil {
		s.Settings = *in.Centre
	}
	for _, x := range on.Present {
		s.Divers[x.ParticipantID] = planview.Diver{ID: x.ParticipantID, PersonID: x.PersonID,
			GroupID: x.GroupID, Dives: x.Dives, Name: names[x.PersonID]}
	}
	in.Divers = slices.Clone(in.Divers)
	for i, v := range in.Divers {
		if v.ParticipantID != nil {
			in.Divers[i].Name = s.Divers[*v.ParticipantID].Name
		}
	}
	return in, s
}

// namesOf returns the names of the participants, as they are now.
func namesOf(ctx context.Context, tx *pg.Tx, on decision.GasPlan) (map[uuid.UUID]string, error) {
	ids := make([]uuid.UUID, len(on.Present))
	for i, p := range on.Present {
		ids[i] = p.PersonID
	}
	type row struct {
		ID   uuid.UUID
		Name string
	}
	rows, err := pg.Rows[row](ctx, tx, `SELECT id, name
		FROM people_person
		WHERE centre_id = app_centre() AND id = ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids})
	out := make(map[uuid.UUID]string, len(rows))
	for _, r := range rows {
		out[r.ID] = r.Name
	}
	return out, err
}

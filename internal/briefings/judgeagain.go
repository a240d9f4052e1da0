package briefings

import (
	"context"

	"tankside/internal/decision"
	"tankside/internal/journal"
	"tankside/internal/pg"
)

// DecisionKinds returns the kinds of decision about conventions, which JudgeAgain judges.
func DecisionKinds() []string { return []string{"create_convention", "change_convention"} }

// JudgeAgain judges a convention again as it was to be.
func JudgeAgain(_ context.Context, _ *pg.Tx, _ journal.Decided,
	on decision.JudgedOn) (again decision.Again, err error) {
	c, err := readConvention(on.Convention)
	if err != nil {
		return again, err
	}
	return decision.Again{Findings: CheckConvention(c)}, nil
}

package courses

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tankside/internal/decision"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/when"
)

// DecisionKinds returns the kinds of decision about enrolments, which JudgeAgain judges.
func DecisionKinds() []string { return []string{"enrol", "activate"} }

// JudgeAgain judges again whether a person might be enrolled, by what it was judged on.
func JudgeAgain(ctx context.Context, tx *pg.Tx, _ journal.Decided,
	on decision.JudgedOn) (again decision.Again, err error) {
	e := *on.Enrolment
	v, err := findVersion(ctx, tx, e.SyllabusID, e.SyllabusNumber)
	if err != nil {
		return again, err
	}
	starts, err := time.Parse(time.DateOnly, e.StartsOn)
	if err != nil {
		return again, fmt.Errorf("judge again: the first day of the course: %w", err)
	}
	type row struct {
		Name    string
		BirthOn time.Time
	}
	p, there, err := pg.OptionalRow[row](ctx, tx, `SELECT name, birth_on
		FROM people_person
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": e.PersonID})
	if err != nil {
		return again, err
	}
	if !there {
		again.Differs = append(again.Differs, fmt.Sprintf("Person %s is there no longer.", e.PersonID))
	} else if age := when.Age(p.BirthOn, starts); age != e.Age {
		again.Since = append(again.Since, fmt.Sprintf(
			"The birth date of person %s was corrected: the decision was judged by %d years on %s, now they are %d.",
			e.PersonID, e.Age, e.StartsOn, age))
	}
	again.Findings = mayEnrol(e, p.Name, v.Content)
	return again, nil
}

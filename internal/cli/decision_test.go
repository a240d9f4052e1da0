package cli_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/cli"
	"tankside/internal/courses"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
)

// A decision is the same when judged again, also after a birth date was put right; one
// whose row somebody altered is not, and the reason is said.
func TestADecisionIsJudgedAgainOnTheCommandLine(t *testing.T) {
	s := scenetest.New(t)
	ana := s.Student("Ana Student", "1995-03-04")
	_, _, _, err := courses.New(s.DB.DB).Enrol(t.Context(), s.As(s.Manager),
		courses.NewEnrolment{Key: once.New(), CourseID: s.Course(syllabus.BuiltIn()), PersonID: ana}, nil)
	require.NoError(t, err)
	var id string
	require.NoError(t, s.DB.InTx(t.Context(), s.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		id, err = pg.Row[string](ctx, tx, `SELECT id::text FROM decision`, pgx.StrictNamedArgs{})
		return err
	}))
	c := console{t, map[string]string{"TANKSIDE_DATABASE_URL": s.DB.AppURL}}
	require.Contains(t, c.done("decision", "judge", "-centre", s.Centre.String(), id), "is the same when judged")
	s.Super(`UPDATE person SET birth_on = '2020-01-01' WHERE name = 'Ana Student'`)
	require.Contains(t, c.done("decision", "judge", "-centre", s.Centre.String(), id), "birth date")
	require.Equal(t, "1 decisions judged again; 0 differ\n",
		c.done("decision", "judge", "-centre", s.Centre.String(), "-all"))
	require.Equal(t, "0 decisions judged again; 0 differ\n",
		c.done("decision", "judge", "-centre", s.Centre.String(), "-all", "-to", "2001-01-01"))

	s.Super(`UPDATE decision SET judged_on = jsonb_set(judged_on, '{enrolment,age}', '9')`)
	status, out, _ := c.run("decision", "judge", "-centre", s.Centre.String(), id)
	require.Equal(t, cli.Refused, status)
	require.Contains(t, out, "Only now: forbidden courses.too_young")
	require.Contains(t, out, "Why: Nothing on record explains it")
	s.Super(`UPDATE decision SET judged_on = '{"age": 31}'`)
	status, out, _ = c.run("decision", "judge", "-centre", s.Centre.String(), "-all")
	require.Equal(t, cli.Refused, status)
	require.Contains(t, out, "kept in form 0; this release reads form 1")
	for _, wrong := range [][]string{{"judge"}, {"judge", "-centre", s.Centre.String()},
		{"judge", "-centre", s.Centre.String(), "-all", id},
		{"judge", "-centre", s.Centre.String(), "-all", "-from", "May"}} {
		status, _, _ := c.run(append([]string{"decision"}, wrong...)...)
		require.Equal(t, cli.Misused, status, wrong)
	}
}

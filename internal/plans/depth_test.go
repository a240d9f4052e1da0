package plans_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
)

// tooDeep returns the participants for whom a plan of everybody goes too deep, by a rule
// book.
func (b *bay) tooDeep(t *testing.T, depth float64, source string, who ...uuid.UUID) (out []string) {
	t.Helper()
	p := b.plan(t, b.ask(depth, append(who, b.instructor)...))
	for _, f := range p.Findings.Of(gas.DepthOverPerson) {
		if f.Severity == finding.Forbidden && f.Source == source {
			out = append(out, f.Subjects[0].ID)
		}
	}
	recomputed, err := gasplan.Calculate(p.Input)
	require.NoError(t, err)
	require.JSONEq(t, written(t, p.Result), written(t, recomputed))
	return out
}

func (b *bay) apply(books ...string) {
	b.Exec(`UPDATE centre SET rule_books = @books WHERE centre_id = @centre`, pgx.NamedArgs{"books": books})
}

// The books that a centre applies limit the students of whom they speak, and
// nobody else. Sources beside each.
func TestTheDepthsOfTheRuleBooksCount(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	twelve, thirteen, fourteen := b.student("Tom", "2014-06-07"), b.student("Tea",
		"2012-06-08"), b.student("Flo", "2012-06-07")
	all := []uuid.UUID{b.adult, twelve, thirteen, fourteen}
	ids := func(who ...uuid.UUID) (out []string) {
		for _, p := range who {
			out = append(out, p.String())
		}
		return out
	}

	// Region of Murcia, order of June 2015 (seen): minors of 12 and 13 to 10 m.
	const murcia = "Murcia, minors (version 1): regional order of June 2015"
	require.Empty(t, b.tooDeep(t, 11, murcia, all...), "a book that the centre does not apply limits nobody")
	b.apply("general-open", "general-minors", "murcia-minors")
	require.Empty(t, b.tooDeep(t, 10, murcia, all...))
	require.Equal(t, ids(twelve, thirteen), b.tooDeep(t, 10.1, murcia, all...))

	// Code du sport, annex III-16a (seen): beginners' training to 20 m.
	const france = "France (version 1): Code du sport, annex III-16a (article A322-82)"
	b.apply("france", "murcia-minors")
	require.Empty(t, b.tooDeep(t, 20, france, all...))
	require.Equal(t, ids(b.adult, fourteen), b.tooDeep(t, 20.1, france, all...),
		"the strictest counts: the order of Murcia for those of 12 and 13")
	require.Equal(t, ids(twelve, thirteen), b.tooDeep(t, 20.1, murcia, all...))

	// The same (seen): first dives to 6 m.
	b.Super(`UPDATE syllabus_version SET level = 'introductory'`)
	require.Empty(t, b.tooDeep(t, 6, france, all...))
	require.Equal(t, ids(all...), b.tooDeep(t, 6.1, france, all...), "and never the instructor")
}

// A centre's own book counts as any other, and its words go into the plan as
// far as the contract takes them.
func TestTheDepthOfACentresOwnBookCounts(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Exec(`UPDATE centre SET own_book = jsonb_build_object('ID', 'own', 'Title', repeat('H', 250), 'Kind', 'own', 'Source', 'the house, ' || repeat('h', 300), 'Status', 'set', 'Version', '4',
		'Lines', jsonb_build_array(jsonb_build_object('Title', 'under 16', 'Settings', '["open"]'::jsonb, 'Levels', '["entry_level"]'::jsonb, 'AgeTo', 15, 'OnlyLimits', true,
			'Places', '[4]'::jsonb, 'MaxDepth', 9)))
		WHERE centre_id = @centre`, nil)
	p := b.plan(t, b.ask(9.5, b.instructor, b.adult, b.child))
	deep := p.Findings.Of(gas.DepthOverPerson)
	require.Len(t, deep, 1)
	require.Equal(t, b.child.String(), deep[0].Subjects[0].ID)
	require.Equal(t, "9 m", deep[0].Limit.Text)
	for _, l := range p.Input.Divers[2].DepthLimits {
		require.LessOrEqual(t, len([]rune(l.Because)), 200)
		require.LessOrEqual(t, len([]rune(l.Source)), 300)
	}
}

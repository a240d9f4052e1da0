package finding_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/units"
)

func TestListTellsWhatForbids(t *testing.T) {
	r := finding.Rule{ID: "x.y", Severity: finding.Caution, Source: "our choice"}
	f := r.Of("a caution", finding.Subject{Type: "group", ID: "1"})
	require.Equal(t, "our choice", f.Source)
	l := finding.List{f}
	require.False(t, l.Forbids())
	require.True(t, l.Has(finding.Caution))
	f.Severity = finding.Forbidden
	l = append(l, f)
	require.True(t, l.Forbids())
	require.Len(t, l.Only(finding.Forbidden), 1)
	require.Len(t, l.Of(r), 2)
}

func TestAmountsSayThemselvesInWords(t *testing.T) {
	require.Equal(t, "9 students", finding.Count(9, "students").Text)
	require.Equal(t, []string{"1 student", "students"}, []string{finding.Count(1, "students").Text, finding.Count(1, "students").Unit})
	require.Equal(t, "1 person", finding.Count(1, "people").Text)
	require.Equal(t, "1 s", finding.Count(1, "s").Text)
	q := finding.Quantity(units.Read(187.5, units.UnitBar))
	require.Equal(t, "187.5 bar", q.Text)
	require.InDelta(t, 187.5, *q.Value, 0)
	require.Equal(t, "2026-06-06", finding.Day("2026-06-06").On)
}

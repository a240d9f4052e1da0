package ratio_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/ratio"
)

// No rule book that we know speaks of crew who do not dive, so figures stay and
// the verdict says what is left open. (Our choice.)
func TestWhoDoesNotDiveCountsAndItIsSaid(t *testing.T) {
	books := books(t, "general-open", "general-confined")
	for _, water := range []ratio.Setting{ratio.Open, ratio.Confined} {
		g := group(water, ratio.EntryLevel, 2, aged(10, 30)...)
		diving := ratio.Judge(books, g)
		require.Empty(t, diving.Findings.Of(ratio.LeaderNotDiving))
		require.Empty(t, diving.Findings.Of(ratio.CrewNotDiving))

		g.NotDiving = 1
		v := ratio.Judge(books, g)
		require.Equal(t, diving.Places, v.Places)
		require.Contains(t, v.Findings.Of(ratio.CrewNotDiving)[0].Message, "Crew who count and do not dive: 1.")
		require.False(t, v.Findings.Has(finding.Caution))

		g.NotDiving, g.Ashore = 0, true
		v = ratio.Judge(books, g)
		require.Equal(t, diving.Places, v.Places)
		require.Equal(t, water == ratio.Open, v.Findings.Has(finding.Caution),
			"an instructor may teach from the side of a pool")
		require.Len(t, v.Findings.Of(ratio.LeaderNotDiving), map[ratio.Setting]int{ratio.Open: 1}[water])
	}
}

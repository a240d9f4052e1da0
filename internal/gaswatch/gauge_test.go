package gaswatch_test

import (
	"math"
	"slices"
	"tankside/internal/scenetest"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/page"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/waterlog"
)

// 2800, 2800, 2800 psi over 12 min and then 2850: at the novice's rate a cylinder of
// 11.1 L loses 33 psi a minute at the surface already (arithmetic), so that 100 psi
// (our choice) are passed before the second look. Nobody planned anything.
func TestAStuckGaugeIsFoundAtEntry(t *testing.T) {
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}} {
		p := pooltest.New(t, 1)
		part := p.InOpen[p.Enrolments[0]]
		in := p.In(part, pooltest.Sunday)
		in.Size = pooltest.Read(11.1, "L")
		_, err := p.TimesIn(p.OpenDives[0], in)
		require.NoError(t, err)
		p.Clock(pooltest.Sunday.Add(15 * time.Minute))
		var looks []waterlog.GasCheck
		for i, psi := range []float64{2800, 2800, 2800, 2850} {
			looks = append(looks, pooltest.Gas(part, pooltest.Read(psi, "psi"), nil,
				pooltest.Sunday.Add(time.Duration(4*i)*time.Minute)))
		}
		answered := map[uuid.UUID]bool{}
		for _, i := range order {
			answered[looks[i].ID] = slices.Contains(p.Found(t, p.Open, looks[i]), "gas.gauge_stuck")
		}
		if order[0] == 0 {
			require.Equal(t, []bool{false, true, true, true},
				[]bool{answered[looks[0].ID], answered[looks[1].ID], answered[looks[2].ID],
					answered[looks[3].ID]}, "said in the answer")
		}
		w := p.Watched(t, part)
		require.Len(t, w.Doubts, 3)
		require.Contains(t, w.Doubts[2].Message,
			"shows 2850 psi, and 2800 psi 12 min before; at least 397 psi less was to be expected even at the surface, since the depth is not known")
		require.Contains(t, pooltest.RulesIn(w.Findings()), "gas.gauge_stuck", "the watch alarms")
		require.Contains(t, pooltest.RulesIn(p.GasOf(t, part).Dives[0].Findings()), "gas.gauge_stuck")
		checks, _, err := p.Waterlog.GasChecks(t.Context(), p.By, p.Open, nil, page.Request{Limit: 10})
		require.NoError(t, err)
		require.Contains(t, pooltest.RulesIn(checks[3].Findings), "gas.gauge_stuck",
			"and whoever reads the checks finds it")
		require.NotContains(t, pooltest.RulesIn(checks[0].Findings), "gas.gauge_stuck")
	}
}

// Without a time in, a plan, a depth or a cylinder: 2900 psi three times over 12 min.
func TestAStuckGaugeIsWatchedWithoutAPlan(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	p.Clock(pooltest.Sunday.Add(15 * time.Minute))
	var looks []waterlog.GasCheck
	for i := range 3 {
		looks = append(looks, pooltest.Gas(part, pooltest.Read(2900, "psi"), nil,
			pooltest.Sunday.Add(time.Duration(6*i)*time.Minute)))
	}
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, looks)
	results := pooltest.Logged(t, out, err)
	require.Contains(t, pooltest.RulesIn(results[2].Findings), "gas.gauge_stuck", "in one call too")
	require.Contains(t, pooltest.RulesIn(p.Watched(t, part).Findings()), "gas.gauge_stuck")
	p.Void(t, looks[1].ID)
	require.Len(t, p.Watched(t, part).Doubts, 1, "what was voided is no reading")
}

// Another cylinder, a simulated reading and a fall are no reason to doubt.
func TestAGaugeIsComparedWithinOneDive(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	p.Clock(pooltest.Sunday.Add(2 * time.Hour))
	p.Dived(t, part, p.OpenDives[0], 20)
	second := p.In(part, pooltest.Sunday.Add(time.Hour))
	_, err := p.TimesIn(p.OpenDives[1], second)
	require.NoError(t, err)
	drill := pooltest.Gas(part, pooltest.Read(200, "bar"), nil, pooltest.Sunday.Add(12*time.Minute))
	drill.Simulated = true
	for _, c := range []waterlog.GasCheck{pooltest.Gas(part, pooltest.Read(150, "bar"), nil,
		pooltest.Sunday.Add(8*time.Minute)), drill,
		pooltest.Gas(part, pooltest.Read(120, "bar"), nil,
			pooltest.Sunday.Add(16*time.Minute)), pooltest.Gas(part, pooltest.Read(200, "bar"), nil,
			pooltest.Sunday.Add(62*time.Minute))} {
		for _, rule := range p.Found(t, p.Open, c) {
			require.NotContains(t, rule, "gas.gauge", c.Reading)
		}
	}
	require.Contains(t, p.Found(t, p.Open, pooltest.Gas(part, pooltest.Read(130, "bar"), nil,
		pooltest.Sunday.Add(18*time.Minute))),
		"gas.gauge_rose", "120 bar two minutes before")
}

// At the diver's own rate less, or more, is to be expected.
func TestAGaugeIsDoubtedAtTheLearnedRate(t *testing.T) {
	for litres, want := range map[float64]int{9: 0, 30: 1} {
		p := pooltest.New(t, 1)
		part := p.InOpen[p.Enrolments[0]]
		diver := p.PersonOf(p.Enrolments[0])
		for day := 1; day <= 3; day++ { // so many dives make a rate: gas.LearnIn
			in := time.Date(2026, 6, day, 9, 0, 0, 0, time.UTC)
			s := p.Session(p.CourseID, "open", in.Format(time.RFC3339), "closed", 1)
			used := litres * 1.9 * 30 / 12 // 30 minutes at 9 m, half of the greatest depth
			p.LogDive(p.Instructor, scenetest.Dive{Participant: p.Participant(s, nil, diver, &p.Enrolments[0],
				"student"),
				Dive: p.Dives(s)[0], In: in, Out: in.Add(30 * time.Minute), Depth: pooltest.Read(18, "m"),
				Size: pooltest.Read(12, "L"), Start: pooltest.Read(200, "bar"),
				End: pooltest.Read(math.Round(200-used), "bar")})
		}
		p.Clock(pooltest.Sunday.Add(15 * time.Minute))
		p.Found(t, p.Open, pooltest.Gas(part, pooltest.Read(180, "bar"), nil, pooltest.Sunday))
		p.Found(t, p.Open, pooltest.Gas(part, pooltest.Read(180, "bar"), nil, pooltest.Sunday.Add(10*time.Minute)))
		require.Len(t, p.Watched(t, part).Doubts, want, "%v L/min", litres)
	}
}

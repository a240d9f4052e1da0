package training_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// 2800, 2800, 2800 psi over 12 min and then 2850: at the novice's rate a cylinder of
// 11.1 L loses 33 psi a minute at the surface already (arithmetic), so that 100 psi
// (our choice) are passed before the second look. Nobody planned anything.
func TestAStuckGaugeIsFoundAtEntry(t *testing.T) {
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}} {
		p := newPool(t, 1)
		part := p.inOpen[p.enrolments[0]]
		in := p.in(part, sunday)
		in.Size = read(11.1, "L")
		_, err := p.timesIn(p.dives[0], in)
		require.NoError(t, err)
		p.Clock(sunday.Add(15 * time.Minute))
		var looks []training.GasCheck
		for i, psi := range []float64{2800, 2800, 2800, 2850} {
			looks = append(looks, gas(part, read(psi, "psi"), nil, sunday.Add(time.Duration(4*i)*time.Minute)))
		}
		answered := map[uuid.UUID]bool{}
		for _, i := range order {
			answered[looks[i].ID] = slices.Contains(p.found(t, p.open, looks[i]), "gas.gauge_stuck")
		}
		if order[0] == 0 {
			require.Equal(t, []bool{false, true, true, true},
				[]bool{answered[looks[0].ID], answered[looks[1].ID], answered[looks[2].ID],
					answered[looks[3].ID]}, "said in the answer")
		}
		w := p.watched(t, part)
		require.Len(t, w.Doubts, 3)
		require.Contains(t, w.Doubts[2].Message,
			"shows 2850 psi, and 2800 psi 12 min before; at least 397 psi less was to be expected even at the surface, since the depth is not known")
		require.Contains(t, rulesIn(w.Findings()), "gas.gauge_stuck", "the watch alarms")
		require.Contains(t, rulesIn(p.gasOf(t, part).Dives[0].Findings()), "gas.gauge_stuck")
		checks, _, err := p.service.GasChecks(t.Context(), p.by, p.open, nil, page.Request{Limit: 10})
		require.NoError(t, err)
		require.Contains(t, rulesIn(checks[3].Findings), "gas.gauge_stuck",
			"and whoever reads the checks finds it")
		require.NotContains(t, rulesIn(checks[0].Findings), "gas.gauge_stuck")
	}
}

// Without a time in, a plan, a depth or a cylinder: 2900 psi three times over 12 min.
func TestAStuckGaugeIsWatchedWithoutAPlan(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	p.Clock(sunday.Add(15 * time.Minute))
	var looks []training.GasCheck
	for i := range 3 {
		looks = append(looks, gas(part, read(2900, "psi"), nil, sunday.Add(time.Duration(6*i)*time.Minute)))
	}
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open, looks)
	results := logged(t, out, err)
	require.Contains(t, rulesIn(results[2].Findings), "gas.gauge_stuck", "in one call too")
	require.Contains(t, rulesIn(p.watched(t, part).Findings()), "gas.gauge_stuck")
	p.void(t, looks[1].ID)
	require.Len(t, p.watched(t, part).Doubts, 1, "what was voided is no reading")
}

// Another cylinder, a simulated reading and a fall are no reason to doubt.
func TestAGaugeIsComparedWithinOneDive(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	p.Clock(sunday.Add(2 * time.Hour))
	p.dived(t, part, p.dives[0], 20)
	second := p.in(part, sunday.Add(time.Hour))
	_, err := p.timesIn(p.dives[1], second)
	require.NoError(t, err)
	drill := gas(part, read(200, "bar"), nil, sunday.Add(12*time.Minute))
	drill.Simulated = true
	for _, c := range []training.GasCheck{gas(part, read(150, "bar"), nil, sunday.Add(8*time.Minute)), drill,
		gas(part, read(120, "bar"), nil, sunday.Add(16*time.Minute)), gas(part, read(200, "bar"), nil,
			sunday.Add(62*time.Minute))} {
		for _, rule := range p.found(t, p.open, c) {
			require.NotContains(t, rule, "gas.gauge", c.Reading)
		}
	}
	require.Contains(t, p.found(t, p.open, gas(part, read(130, "bar"), nil, sunday.Add(18*time.Minute))),
		"gas.gauge_rose", "120 bar two minutes before")
}

// At the diver's own rate less, or more, is to be expected.
func TestAGaugeIsDoubtedAtTheLearnedRate(t *testing.T) {
	for rate, want := range map[units.Rate]int{5 * units.LitrePerMinute: 0, 30 * units.LitrePerMinute: 1} {
		p := newPool(t, 1)
		part := p.inOpen[p.enrolments[0]]
		judges := nothingFound
		judges.Rates = func(context.Context, *pg.Tx, []uuid.UUID) (map[uuid.UUID]units.Rate, error) {
			return map[uuid.UUID]units.Rate{p.PersonOf(p.enrolments[0]): rate}, nil
		}
		p.service = training.New(p.DB.DB, versions.New[syllabus.Syllabus](), judges)
		p.Clock(sunday.Add(15 * time.Minute))
		p.found(t, p.open, gas(part, read(180, "bar"), nil, sunday))
		p.found(t, p.open, gas(part, read(180, "bar"), nil, sunday.Add(10*time.Minute)))
		require.Len(t, p.watched(t, part).Doubts, want, "%v", rate)
	}
}

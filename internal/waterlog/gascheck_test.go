package waterlog_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// Common practice: a reading is reported rounded down, to 100 psi or 10 bar.
func TestGasChecksAreJudgedAgainstTheOwnGauge(t *testing.T) {
	p := pooltest.New(t, 2)
	part := p.InConfined[p.Enrolments[0]]
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, map[string]any{"id": part})
	bar := p.InConfined[p.Enrolments[1]]
	r := func(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }
	future := pooltest.Gas(part, r(1750, "psi"), nil, time.Date(2026, 6, 7, 18, 6, 0, 0, time.UTC))
	checks := []waterlog.GasCheck{
		pooltest.Gas(part, r(1750, "psi"), r(1800, "psi"), p.WitnessedAt),
		pooltest.Gas(part, r(1750, "psi"), r(1700, "psi"), p.WitnessedAt.Add(time.Minute)),
		pooltest.Gas(bar, r(187, "bar"), r(180, "bar"), p.WitnessedAt),
		pooltest.Gas(uuid.New(), r(187, "bar"), r(180, "bar"), p.WitnessedAt),
		pooltest.Gas(bar, r(400, "bar"), nil, p.WitnessedAt),
		pooltest.Gas(bar, r(5100, "psi"), nil, p.WitnessedAt),
		future,
	}
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Confined, checks)
	require.NoError(t, err)
	for i, want := range []string{"", "", "", "unknown_reference", "invalid_request", "invalid_request",
		"invalid_request"} {
		if want == "" {
			require.Equal(t, journal.Recorded, out[i].Status, i)
			continue
		}
		require.Equal(t, want, out[i].Refusal.Code, i)
	}
	list, _, err := p.Waterlog.GasChecks(t.Context(), p.By, p.Confined, []uuid.UUID{part},
		page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, signal.OverReported, list[0].Verdict)
	require.Equal(t, signal.Right, list[1].Verdict)
	require.Equal(t, "1750 psi", list[0].Reading.String())

	again, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Confined, checks[:2])
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, again[0].Status)
	checks[0].NoAnswer = true
	again, err = p.Waterlog.LogGasChecks(t.Context(), p.By, p.Confined, checks[:1])
	require.NoError(t, err)
	require.Equal(t, "id_reused", again[0].Refusal.Code)
}

package gaswatch_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/gaswatch"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/signal"
	"tankside/internal/waterlog"
)

// reached gives what was reached, as the tests read it.
func reached(list []signal.Reached) (out []string) {
	for _, r := range list {
		for _, e := range r.Expected {
			out = append(out, fmt.Sprintf("%s at %s: %s %s", r.Mark, r.Found, e.What, e.State))
		}
	}
	return out
}

// The check that crosses is recognised by the times at which the checks were
// witnessed; what it says by itself is found when it is recorded.
func TestACheckThatReachesThePlannedPressures(t *testing.T) {
	p := pooltest.New(t, 2)
	part, mate := p.InOpen[p.Enrolments[0]], p.InOpen[p.Enrolments[1]]
	p.Plan(&p.OpenDives[0], pooltest.Read(120, "bar"), pooltest.Read(55, "bar"), part, mate)
	in := p.In(part, pooltest.Sunday)
	in.Start = pooltest.Read(200, "bar")
	_, err := p.TimesIn(p.OpenDives[0], in, p.In(mate, pooltest.Sunday))
	require.NoError(t, err)

	look := func(minutes int, bar float64) waterlog.GasCheck {
		c := pooltest.Gas(part, pooltest.Read(bar, "bar"), pooltest.Read(bar, "bar"),
			pooltest.Sunday.Add(time.Duration(minutes)*time.Minute))
		c.Depth, c.DiveID = pooltest.Read(9, "m"), &p.OpenDives[0]
		return c
	}
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open,
		[]waterlog.GasCheck{look(10, 110), look(2, 181), look(6, 145), look(8, 120)})
	var stored []string
	for _, r := range pooltest.Logged(t, out, err) {
		stored = append(stored, fmt.Sprint(pooltest.RulesIn(r.Findings)))
	}
	require.Equal(t, []string{"[signal.turn_reached]", "[]", "[]", "[signal.turn_reached]"}, stored,
		"each by itself")
	p.Clock(pooltest.Sunday.Add(11 * time.Minute))
	w := p.Watched(t, part)
	require.Equal(t, []string{"turn at 120 bar: turned pending"}, reached(w.Reached), "at the first of them")
	require.Equal(t, signal.Turned, w.Pending())
	require.NotNil(t, w.Trend, w.NoTrend)
	// From 181 bar at 2 min to 110 bar at 10 min, 9 bar a minute: 55 bar after 16
	// min; from the surface to 2 min it fell faster than the depth explains.
	require.InDelta(t, 15.5, w.Trend.LowGasAt.Sub(pooltest.Sunday).Minutes(), 0.6)
	require.True(t, w.Trend.EarliestAt.Before(w.Trend.LowGasAt))

	// The buddy turned, and with the buddy the group.
	turn := waterlog.Response{ID: uuid.New(), ParticipantID: mate, What: signal.Turned,
		WitnessedAt: pooltest.Sunday.Add(9 * time.Minute)}
	res, err := p.Waterlog.LogResponses(t.Context(), p.By, p.Open, []waterlog.Response{turn})
	pooltest.Logged(t, res, err)
	require.Equal(t, []string{"turn at 120 bar: turned done"}, reached(p.Watched(t, part).Reached))
	require.Empty(t, p.Watched(t, mate).Reached, "who did not reach it has nothing to answer")
	p.Void(t, turn.ID)
	require.Equal(t, signal.Turned, p.Watched(t, part).Pending())

	p.Clock(pooltest.Sunday.Add(20 * time.Minute))
	out, err = p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{look(16, 54)})
	require.Equal(t, []string{signal.RuleLowGasReached.ID}, pooltest.RulesIn(pooltest.Logged(t, out, err)[0].Findings))
	require.Equal(t, signal.SignalledLow, p.Watched(t, part).Pending())
	require.Equal(t, "the low-gas pressure has been reached", p.Watched(t, part).NoTrend)
	ends, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0],
		[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: pooltest.Sunday.Add(19 * time.Minute),
			Depth: pooltest.Read(9, "m")}})
	pooltest.Logged(t, ends, err)
	w = p.Watched(t, part)
	require.Equal(t, signal.Response(""), w.Pending(), "the end of the dive closes it")
	require.Equal(t, []string{"turn at 120 bar: turned dive_ended",
		"low_gas at 54 bar: signalled_low dive_ended", "low_gas at 54 bar: ascent_begun dive_ended"}, reached(w.Reached))
	require.Equal(t, []string{"signal.low_gas_reached", "signal.response_not_seen", "signal.turn_reached"},
		pooltest.RulesIn(w.Findings()))
}

func TestThePressuresArePlannedByDiveAndReadOnTheOwnGauge(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	marks := func() string {
		m := p.Watched(t, part).Marks
		if m.Turn == nil {
			return "none"
		}
		return m.Turn.String() + ", " + m.LowGas.String()
	}
	require.Equal(t, "none", marks(), "no plan")
	p.Plan(&p.OpenDives[0], pooltest.Read(130, "bar"), pooltest.Read(60, "bar"), part)
	require.Equal(t, "130 bar, 60 bar", marks(), "the only dive with a plan, before anybody looked")
	p.Checks(t, part, 1)
	require.Equal(t, "130 bar, 60 bar", marks(), "and after")
	p.Plan(&p.OpenDives[1], pooltest.Read(110, "bar"), pooltest.Read(50, "bar"), part)
	require.Equal(t, "none", marks(), "which of two dives cannot be told")
	p.Plan(nil, pooltest.Read(120, "bar"), pooltest.Read(55, "bar"), part)
	require.Equal(t, "120 bar, 55 bar", marks(), "planned for the session")
	p.Dived(t, part, p.OpenDives[1], 10)
	require.Equal(t, "110 bar, 50 bar", marks(), "planned for the dive")
	p.Plan(&p.OpenDives[1], pooltest.Read(115, "bar"), pooltest.Read(50, "bar"), part)
	require.Equal(t, "115 bar, 50 bar", marks(), "planned anew")
	// 115 bar are 1668 psi and 50 bar 725 psi, rounded up to 100 psi.
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, pgx.NamedArgs{"id": part})
	require.Equal(t, "1700 psi, 800 psi", marks(), "on another gauge")
}

// Whatever the order in which entries arrive, the log says the same.
func TestTheGasLogDoesNotDependOnTheOrderOfArrival(t *testing.T) {
	var want string
	minute := func(m int) time.Time { return pooltest.Sunday.Add(time.Duration(m) * time.Minute) }
	r := rand.New(rand.NewPCG(7, 11))
	for range 4 {
		p := pooltest.New(t, 2)
		part, mate := p.InOpen[p.Enrolments[0]], p.InOpen[p.Enrolments[1]]
		p.Briefed(120)
		p.Plan(&p.OpenDives[0], pooltest.Read(120, "bar"), pooltest.Read(55, "bar"), part, mate)
		in := p.In(part, pooltest.Sunday)
		check := func(m int, bar float64) func() {
			return func() {
				out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open,
					[]waterlog.GasCheck{pooltest.Gas(part, pooltest.Read(bar, "bar"), nil, minute(m))})
				pooltest.Logged(t, out, err)
			}
		}
		respond := func(who uuid.UUID, m int, what signal.Response) func() {
			return func() {
				out, err := p.Waterlog.LogResponses(t.Context(), p.By, p.Open,
					[]waterlog.Response{{ID: uuid.New(), ParticipantID: who, What: what,
						WitnessedAt: minute(m)}})
				pooltest.Logged(t, out, err)
			}
		}
		entries := []func(){check(2, 180), check(4, 150), check(6, 119), check(9, 100), check(11, 80),
			check(13, 55), check(-3, 205),
			respond(mate, 7, signal.Turned), respond(part, 13, signal.SignalledLow),
			respond(part, 14, signal.AscentBegun),
			func() {
				_, err := p.TimesIn(p.OpenDives[0], in)
				require.NoError(t, err)
			},
			func() {
				out, err := p.Waterlog.CompleteLog(t.Context(), p.By, p.Open,
					[]waterlog.LogCompletion{{ID: uuid.New(), WitnessedAt: minute(60)}})
				pooltest.Logged(t, out, err)
			}}
		r.Shuffle(len(entries), func(i, j int) { entries[i], entries[j] = entries[j], entries[i] })
		for _, enter := range entries {
			enter()
		}
		out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0],
			[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: minute(16), Depth: pooltest.Read(9, "m")}})
		pooltest.Logged(t, out, err)
		d := p.GasOf(t, part)
		got := fmt.Sprint(d.Verdicts, len(d.Surface), reached(d.Dives[0].Reached),
			pooltest.RulesIn(d.Dives[0].Findings()))
		for _, g := range d.Dives[0].Gaps {
			got += fmt.Sprint(" ", g.From.Sub(pooltest.Sunday), "-", g.To.Sub(pooltest.Sunday))
		}
		if want == "" {
			want = got
		}
		require.Equal(t, want, got)
	}
	require.Contains(t, want, "6m0s-9m0s")
	require.Contains(t, want, "low_gas at 55 bar: ascent_begun done")
}

// A plan for a dive that the session has no more is no plan for every dive.
func TestADrillTakesNoPressuresOfADiveThatIsGone(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	p.Plan(new(uuid.New()), pooltest.Read(190, "bar"), pooltest.Read(180, "bar"), part)
	drill := func() gaswatch.DrillStudent {
		out, err := p.Gaswatch.WriteDrill(t.Context(), p.By, p.Open,
			gaswatch.DrillRequest{Seed: 1, Convention: signal.Ready()[0]})
		require.NoError(t, err)
		require.Len(t, out.Students, 1)
		return out.Students[0]
	}
	require.Nil(t, drill().Low)
	require.Empty(t, drill().From)
	p.Plan(&p.OpenDives[1], pooltest.Read(120, "bar"), pooltest.Read(60, "bar"), part)
	require.Equal(t, pooltest.Read(60, "bar"), drill().Low)
	require.Equal(t, "plan", drill().From)
}

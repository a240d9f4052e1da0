package training_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/signal"
	"tankside/internal/training"
	"tankside/internal/units"
)

// plan confirms turn and low-gas pressures for participants on a dive, on every
// dive of the open-water session for nil.
func (p *pool) plan(dive *uuid.UUID, turn, low *units.Reading, participants ...uuid.UUID) {
	id := uuid.New()
	args := pgx.NamedArgs{"id": id, "session": p.open, "dive": dive, "by": p.instructor,
		"turn": turn.Value.Float(), "low": low.Value.Float(),
		"unit": string(turn.Unit), "parts": participants}
	p.Exec(`INSERT INTO gas_plan (centre_id, id, session_id, dive_id, asked, input, result, findings, token_id, planned_at, body_digest)
		SELECT @centre, @id, @session, @dive, '{}', '{}', '{}', '[]', (SELECT id FROM token WHERE person_id = @by), @now, ''`, args)
	p.Exec(`INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low_value, low_unit, turn_value, turn_unit, start_value, start_unit)
		SELECT @centre, @id, x, @low, @unit, @turn, @unit, 200, 'bar' FROM unnest(@parts::uuid[]) x`, args)
	p.Exec(`INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
		SELECT @centre, @id, @session, @dive, (SELECT count(*) + 1 FROM gas_plan_confirmed WHERE session_id = @session), '[]', '[]', @by,
			(SELECT id FROM token WHERE person_id = @by), @now`, args)
}

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
	p := newPool(t, 2)
	part, mate := p.inOpen[p.enrolments[0]], p.inOpen[p.enrolments[1]]
	p.plan(&p.dives[0], read(120, "bar"), read(55, "bar"), part, mate)
	in := p.in(part, sunday)
	in.Start = read(200, "bar")
	_, err := p.timesIn(p.dives[0], in, p.in(mate, sunday))
	require.NoError(t, err)

	look := func(minutes int, bar float64) training.GasCheck {
		c := gas(part, read(bar, "bar"), read(bar, "bar"), sunday.Add(time.Duration(minutes)*time.Minute))
		c.Depth, c.DiveID = read(9, "m"), &p.dives[0]
		return c
	}
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open,
		[]training.GasCheck{look(10, 110), look(2, 181), look(6, 145), look(8, 120)})
	var stored []string
	for _, r := range logged(t, out, err) {
		stored = append(stored, fmt.Sprint(rulesIn(r.Findings)))
	}
	require.Equal(t, []string{"[signal.turn_reached]", "[]", "[]", "[signal.turn_reached]"}, stored,
		"each by itself")
	p.Clock(sunday.Add(11 * time.Minute))
	w := p.watched(t, part)
	require.Equal(t, []string{"turn at 120 bar: turned pending"}, reached(w.Reached), "at the first of them")
	require.Equal(t, signal.Turned, w.Pending())
	require.NotNil(t, w.Trend, w.NoTrend)
	// From 181 bar at 2 min to 110 bar at 10 min, 9 bar a minute: 55 bar after 16
	// min; from the surface to 2 min it fell faster than the depth explains.
	require.InDelta(t, 15.5, w.Trend.LowGasAt.Sub(sunday).Minutes(), 0.6)
	require.True(t, w.Trend.EarliestAt.Before(w.Trend.LowGasAt))

	// The buddy turned, and with the buddy the group.
	turn := training.GasResponse{ID: uuid.New(), ParticipantID: mate, What: signal.Turned,
		WitnessedAt: sunday.Add(9 * time.Minute)}
	res, err := p.service.LogResponses(t.Context(), p.by, p.open, []training.GasResponse{turn})
	logged(t, res, err)
	require.Equal(t, []string{"turn at 120 bar: turned done"}, reached(p.watched(t, part).Reached))
	require.Empty(t, p.watched(t, mate).Reached, "who did not reach it has nothing to answer")
	p.void(t, turn.ID)
	require.Equal(t, signal.Turned, p.watched(t, part).Pending())

	p.Clock(sunday.Add(20 * time.Minute))
	out, err = p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{look(16, 54)})
	require.Equal(t, []string{signal.RuleLowGasReached.ID}, rulesIn(logged(t, out, err)[0].Findings))
	require.Equal(t, signal.SignalledLow, p.watched(t, part).Pending())
	require.Equal(t, "the low-gas pressure has been reached", p.watched(t, part).NoTrend)
	ends, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0],
		[]training.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: sunday.Add(19 * time.Minute),
			Depth: read(9, "m")}})
	logged(t, ends, err)
	w = p.watched(t, part)
	require.Equal(t, signal.Response(""), w.Pending(), "the end of the dive closes it")
	require.Equal(t, []string{"turn at 120 bar: turned dive_ended",
		"low_gas at 54 bar: signalled_low dive_ended", "low_gas at 54 bar: ascent_begun dive_ended"}, reached(w.Reached))
	require.Equal(t, []string{"signal.low_gas_reached", "signal.response_not_seen", "signal.turn_reached"},
		rulesIn(w.Findings()))
}

func TestThePressuresArePlannedByDiveAndReadOnTheOwnGauge(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	marks := func() string {
		m := p.watched(t, part).Marks
		if m.Turn == nil {
			return "none"
		}
		return m.Turn.String() + ", " + m.LowGas.String()
	}
	require.Equal(t, "none", marks(), "no plan")
	p.plan(&p.dives[0], read(130, "bar"), read(60, "bar"), part)
	require.Equal(t, "130 bar, 60 bar", marks(), "the only dive with a plan, before anybody looked")
	p.checks(t, part, 1)
	require.Equal(t, "130 bar, 60 bar", marks(), "and after")
	p.plan(&p.dives[1], read(110, "bar"), read(50, "bar"), part)
	require.Equal(t, "none", marks(), "which of two dives cannot be told")
	p.plan(nil, read(120, "bar"), read(55, "bar"), part)
	require.Equal(t, "120 bar, 55 bar", marks(), "planned for the session")
	p.dived(t, part, p.dives[1], 10)
	require.Equal(t, "110 bar, 50 bar", marks(), "planned for the dive")
	p.plan(&p.dives[1], read(115, "bar"), read(50, "bar"), part)
	require.Equal(t, "115 bar, 50 bar", marks(), "planned anew")
	// 115 bar are 1668 psi and 50 bar 725 psi, rounded up to 100 psi.
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, pgx.NamedArgs{"id": part})
	require.Equal(t, "1700 psi, 800 psi", marks(), "on another gauge")
}

// Whatever the order in which entries arrive, the log says the same.
func TestTheGasLogDoesNotDependOnTheOrderOfArrival(t *testing.T) {
	var want string
	minute := func(m int) time.Time { return sunday.Add(time.Duration(m) * time.Minute) }
	r := rand.New(rand.NewPCG(7, 11))
	for range 4 {
		p := newPool(t, 2)
		part, mate := p.inOpen[p.enrolments[0]], p.inOpen[p.enrolments[1]]
		p.briefed(120)
		p.plan(&p.dives[0], read(120, "bar"), read(55, "bar"), part, mate)
		in := p.in(part, sunday)
		check := func(m int, bar float64) func() {
			return func() {
				out, err := p.service.LogGasChecks(t.Context(), p.by, p.open,
					[]training.GasCheck{gas(part, read(bar, "bar"), nil, minute(m))})
				logged(t, out, err)
			}
		}
		respond := func(who uuid.UUID, m int, what signal.Response) func() {
			return func() {
				out, err := p.service.LogResponses(t.Context(), p.by, p.open,
					[]training.GasResponse{{ID: uuid.New(), ParticipantID: who, What: what,
						WitnessedAt: minute(m)}})
				logged(t, out, err)
			}
		}
		entries := []func(){check(2, 180), check(4, 150), check(6, 119), check(9, 100), check(11, 80),
			check(13, 55), check(-3, 205),
			respond(mate, 7, signal.Turned), respond(part, 13, signal.SignalledLow),
			respond(part, 14, signal.AscentBegun),
			func() {
				_, err := p.timesIn(p.dives[0], in)
				require.NoError(t, err)
			},
			func() {
				out, err := p.service.CompleteLog(t.Context(), p.by, p.open,
					[]training.LogCompletion{{ID: uuid.New(), WitnessedAt: minute(60)}})
				logged(t, out, err)
			}}
		r.Shuffle(len(entries), func(i, j int) { entries[i], entries[j] = entries[j], entries[i] })
		for _, enter := range entries {
			enter()
		}
		out, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0],
			[]training.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: minute(16), Depth: read(9, "m")}})
		logged(t, out, err)
		d := p.gasOf(t, part)
		got := fmt.Sprint(d.Verdicts, len(d.Surface), reached(d.Dives[0].Reached),
			rulesIn(d.Dives[0].Findings()))
		for _, g := range d.Dives[0].Gaps {
			got += fmt.Sprint(" ", g.From.Sub(sunday), "-", g.To.Sub(sunday))
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
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	p.plan(new(uuid.New()), read(190, "bar"), read(180, "bar"), part)
	drill := func() training.DrillStudent {
		out, err := p.service.WriteDrill(t.Context(), p.by, p.open,
			training.DrillRequest{Seed: 1, Convention: signal.Ready()[0]})
		require.NoError(t, err)
		require.Len(t, out.Students, 1)
		return out.Students[0]
	}
	require.Nil(t, drill().Low)
	require.Empty(t, drill().From)
	p.plan(&p.dives[1], read(120, "bar"), read(60, "bar"), part)
	require.Equal(t, read(60, "bar"), drill().Low)
	require.Equal(t, "plan", drill().From)
}

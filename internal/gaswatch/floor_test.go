package gaswatch_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// 300 psi is less than any floor: somebody without a plan, whom nobody told
// anything, is low on gas. In confined water the floor is 35 bar or 500 psi (our
// choice), and whatever the centre sets counts.
func TestTheFloorSpeaksForEverybody(t *testing.T) {
	p := pooltest.New(t, 2)
	open, pool := p.InOpen[p.Enrolments[0]], p.InConfined[p.Enrolments[0]]
	low := func(rules []string) bool { return slices.Contains(rules, signal.RuleLowGasReached.ID) }
	for _, x := range []struct {
		session, part uuid.UUID
		reading       *units.Reading
		want          bool
	}{
		{p.Open, open, pooltest.Read(300, "psi"), true},
		{p.Open, open, pooltest.Read(50, "bar"), true},
		{p.Open, open, pooltest.Read(51, "bar"), false},
		{p.Confined, pool, pooltest.Read(35, "bar"), true},
		{p.Confined, pool, pooltest.Read(36, "bar"), false},
	} {
		at := pooltest.Sunday
		if x.session == p.Confined {
			at = p.WitnessedAt
		}
		require.Equal(t, x.want, low(p.Found(t, x.session, pooltest.Gas(x.part, x.reading, nil, at))), x.reading)
	}
	w := p.Watched(t, open)
	require.Equal(t, []any{"50 bar", signal.ByFloor}, []any{w.Marks.LowGas.String(), w.Marks.LowGasBy})
	require.Equal(t, signal.SignalledLow, w.Pending(), "the watch alarms too")
	require.Equal(t, signal.SignalledLow, p.GasOf(t, open).Dives[0].Reached[0].Expected[0].What)

	p.Exec(`INSERT INTO gas_settings (centre_id, settings, confined_floor, updated_at)
		VALUES (@centre, '{"floor": {"value": 900, "unit": "psi"}}', '{"value": 45, "unit": "bar"}', @now)`, pgx.NamedArgs{})
	mate := p.InOpen[p.Enrolments[1]]
	require.True(t, low(p.Found(t, p.Open, pooltest.Gas(mate, pooltest.Read(65, "bar"), nil, pooltest.Sunday))),
		"900 psi are 62 bar: 65 bar on a gauge in bar")
	require.True(t, low(p.Found(t, p.Confined,
		pooltest.Gas(pool, pooltest.Read(45, "bar"), nil, p.WitnessedAt.Add(time.Minute)))))
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, pgx.NamedArgs{"id": mate})
	require.Equal(t, "900 psi", p.Watched(t, mate).Marks.LowGas.String())
}

// Of what was planned, told and set the greatest counts, whoever was told less.
func TestTheGreatestOfPlanBriefingAndFloorCounts(t *testing.T) {
	p := pooltest.New(t, 2)
	part := p.InOpen[p.Enrolments[0]]
	marks := func() []any {
		m := p.Watched(t, part).Marks
		turn := "none"
		if m.Turn != nil {
			turn = m.Turn.String() + " " + string(m.TurnBy)
		}
		return []any{turn, m.LowGas.String(), m.LowGasBy}
	}
	p.Told(part, 1, `[{"dive_id": null, "turn": {"value": 90, "unit": "bar"}, "low": {"value": 20, "unit": "bar"}}]`)
	require.Equal(t, []any{"90 bar briefing", "50 bar", signal.ByFloor}, marks(), "told less than the floor")
	p.Told(part, 2, `[{"dive_id": null, "turn": null, "low": {"value": 70, "unit": "bar"}}]`)
	require.Equal(t, []any{"none", "70 bar", signal.ByBriefing}, marks(), "the newest briefing")
	p.Plan(nil, pooltest.Read(120, "bar"), pooltest.Read(60, "bar"), part)
	require.Equal(t, []any{"120 bar plan", "70 bar", signal.ByBriefing}, marks())
	require.Contains(t, p.Found(t, p.Open, pooltest.Gas(part, pooltest.Read(70, "bar"), nil, pooltest.Sunday)),
		signal.RuleLowGasReached.ID)
	p.Plan(nil, pooltest.Read(120, "bar"), pooltest.Read(80, "bar"), part)
	require.Equal(t, []any{"120 bar plan", "80 bar", signal.ByPlan}, marks())
	p.Told(part, 3, `null`)
	require.Equal(t, []any{"120 bar plan", "80 bar", signal.ByPlan}, marks(),
		"a briefing that told nothing takes nothing away")

	// Somebody else's figures and another dive's are not theirs.
	mate := p.InOpen[p.Enrolments[1]]
	p.Told(mate, 1, `[{"dive_id": "`+p.OpenDives[1].String()+
		`", "turn": null, "low": {"value": 99, "unit": "bar"}}]`)
	c := pooltest.Gas(mate, pooltest.Read(90, "bar"), nil, pooltest.Sunday)
	c.DiveID = &p.OpenDives[0]
	require.NotContains(t, p.Found(t, p.Open, c), signal.RuleLowGasReached.ID)
	c.ID, c.DiveID = uuid.New(), &p.OpenDives[1]
	require.Contains(t, p.Found(t, p.Open, c), signal.RuleLowGasReached.ID)
}

// A simulated low of a drill is kept and shown as that, and nobody is alarmed.
func TestASimulatedReadingAlarmsNobody(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	_, err := p.TimesIn(p.OpenDives[0], p.In(part, pooltest.Sunday))
	require.NoError(t, err)
	truly := pooltest.Gas(part, pooltest.Read(150, "bar"), pooltest.Read(150, "bar"),
		pooltest.Sunday.Add(2*time.Minute))
	drill := pooltest.Gas(part, pooltest.Read(40, "bar"), pooltest.Read(50, "bar"), pooltest.Sunday.Add(3*time.Minute))
	drill.Simulated = true
	p.Clock(pooltest.Sunday.Add(4 * time.Minute))
	require.Empty(t, p.Found(t, p.Open, truly))
	require.Equal(t, []string{"signal.over_reported"}, p.Found(t, p.Open, drill),
		"the report is judged: that is what the drill is for")
	w := p.Watched(t, part)
	require.Equal(t, truly.ID, w.Last.ID)
	require.Equal(t, drill.ID, w.Simulated.ID)
	require.Empty(t, w.Reached)
	require.Empty(t, w.Findings())
	require.Equal(t, "a trend needs two readings of the gauge at different times", w.NoTrend)
	require.True(t, p.GasOf(t, part).Dives[0].Checks[1].Simulated)
	require.Equal(t, 1, p.Count(`SELECT FROM waterlog_gas_check`), "no breathing rate is learned from it")
	again := pooltest.Gas(part, pooltest.Read(145, "bar"), pooltest.Read(140, "bar"),
		pooltest.Sunday.Add(4*time.Minute))
	require.Empty(t, p.Found(t, p.Open, again))
	require.Nil(t, p.Watched(t, part).Simulated, "a newer look shows the gas")
	again.Simulated = true
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{again})
	require.NoError(t, err)
	require.Equal(t, "id_reused", out[0].Refusal.Code, "said to be simulated it is another entry")
	real40 := pooltest.Gas(part, pooltest.Read(40, "bar"), pooltest.Read(40, "bar"), pooltest.Sunday.Add(5*time.Minute))
	require.Equal(t, []string{"signal.low_gas_reached"}, p.Found(t, p.Open, real40), "in the same drill")
	require.Equal(t, journal.AlreadyRecorded, func() journal.Status {
		out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{drill})
		require.NoError(t, err)
		return out[0].Status
	}())
}

// A start pressure is held against the same as a gas check: the centre's floor, 50
// bar in open water unless set, and what was told (the figures are our choice). The
// time in is recorded.
func TestAStartPressureIsHeldAgainstWhatWasAgreed(t *testing.T) {
	p := pooltest.New(t, 3)
	part := func(i int) uuid.UUID { return p.InOpen[p.Enrolments[i]] }
	p.Told(part(1), 0, `[{"low": {"value": 80, "unit": "bar"}, "turn": {"value": 120, "unit": "bar"}}]`)
	dive := p.Dives(p.Open)[0]
	for _, x := range []struct {
		name  string
		part  uuid.UUID
		start *units.Reading
		mark  any // "" for no finding
		limit string
	}{
		{"at the floor", part(0), pooltest.Read(50, "bar"), "low_gas", "50 bar"},
		{"below it, in the other unit", part(0), pooltest.Read(700, "psi"), "low_gas", "50 bar"},
		{"above it", part(0), pooltest.Read(60, "bar"), nil, ""},
		{"not known", part(2), nil, nil, ""},
		{"at what was told", part(1), pooltest.Read(80, "bar"), "low_gas", "80 bar"},
		{"at the turn", part(1), pooltest.Read(120, "bar"), "turn", "120 bar"},
		{"a full cylinder", part(1), pooltest.Read(200, "bar"), nil, ""},
	} {
		in := waterlog.TimeIn{ID: uuid.New(), ParticipantID: x.part, InAt: pooltest.Sunday, Start: x.start}
		out, err := p.TimesIn(dive, in)
		found := pooltest.Logged(t, out, err)[0].Findings
		i := slices.IndexFunc(found, func(f finding.Finding) bool { return f.Rule == signal.RuleStartedLow.ID })
		if x.mark == nil {
			require.Negative(t, i, x.name)
			continue
		}
		require.GreaterOrEqual(t, i, 0, x.name)
		require.Equal(t, []any{x.mark, x.limit, finding.Forbidden},
			[]any{found[i].Params["mark"], found[i].Limit.Text, found[i].Severity}, x.name)
		stored := p.Count(`SELECT 1 FROM entry, jsonb_array_elements(findings) f WHERE id = '` +
			in.ID.String() + `' AND f->>'rule' = 'signal.started_low'`)
		require.Equal(t, 1, stored, "it stands with the entry")
	}
}

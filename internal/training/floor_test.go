package training_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/signal"
	"tankside/internal/training"
	"tankside/internal/units"
)

// told says that a participant's newest briefing told turn and low-gas pressures.
func (p *pool) told(participant uuid.UUID, minute int, figures string) {
	id := uuid.New()
	args := pgx.NamedArgs{"id": id, "session": p.open, "by": p.instructor,
		"at": sunday.Add(time.Duration(minute-60) * time.Minute), "part": participant, "figures": figures}
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, @id, 'briefing', @session, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, ''`, args)
	p.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, content) VALUES (@centre, @id, @session, '{}', '{}')`, args)
	p.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
		SELECT @centre, @id, person_id, 'bar', @figures, '' FROM participant WHERE id = @part`, args)
}

// found records one check and gives the rules that spoke, in the answer.
func (p *pool) found(t *testing.T, session uuid.UUID, c training.GasCheck) []string {
	t.Helper()
	out, err := p.service.LogGasChecks(t.Context(), p.by, session, []training.GasCheck{c})
	return rulesIn(logged(t, out, err)[0].Findings)
}

// 300 psi is less than any floor: somebody without a plan, whom nobody told
// anything, is low on gas. In confined water the floor is 35 bar or 500 psi (our
// choice), and whatever the centre sets counts.
func TestTheFloorSpeaksForEverybody(t *testing.T) {
	p := newPool(t, 2)
	open, pool := p.inOpen[p.enrolments[0]], p.inConfined[p.enrolments[0]]
	low := func(rules []string) bool { return slices.Contains(rules, signal.RuleLowGasReached.ID) }
	for _, x := range []struct {
		session, part uuid.UUID
		reading       *units.Reading
		want          bool
	}{
		{p.open, open, read(300, "psi"), true},
		{p.open, open, read(50, "bar"), true},
		{p.open, open, read(51, "bar"), false},
		{p.confined, pool, read(35, "bar"), true},
		{p.confined, pool, read(36, "bar"), false},
	} {
		at := sunday
		if x.session == p.confined {
			at = p.witnessedAt
		}
		require.Equal(t, x.want, low(p.found(t, x.session, gas(x.part, x.reading, nil, at))), x.reading)
	}
	w := p.watched(t, open)
	require.Equal(t, []any{"50 bar", signal.ByFloor}, []any{w.Marks.LowGas.String(), w.Marks.LowGasBy})
	require.Equal(t, signal.SignalledLow, w.Pending(), "the watch alarms too")
	require.Equal(t, signal.SignalledLow, p.gasOf(t, open).Dives[0].Reached[0].Expected[0].What)

	p.Exec(`INSERT INTO gas_settings (centre_id, settings, confined_floor, updated_at)
		VALUES (@centre, '{"floor": {"value": 900, "unit": "psi"}}', '{"value": 45, "unit": "bar"}', @now)`, pgx.NamedArgs{})
	mate := p.inOpen[p.enrolments[1]]
	require.True(t, low(p.found(t, p.open, gas(mate, read(65, "bar"), nil, sunday))),
		"900 psi are 62 bar: 65 bar on a gauge in bar")
	require.True(t, low(p.found(t, p.confined,
		gas(pool, read(45, "bar"), nil, p.witnessedAt.Add(time.Minute)))))
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, pgx.NamedArgs{"id": mate})
	require.Equal(t, "900 psi", p.watched(t, mate).Marks.LowGas.String())
}

// Of what was planned, told and set the greatest counts, whoever was told less.
func TestTheGreatestOfPlanBriefingAndFloorCounts(t *testing.T) {
	p := newPool(t, 2)
	part := p.inOpen[p.enrolments[0]]
	marks := func() []any {
		m := p.watched(t, part).Marks
		turn := "none"
		if m.Turn != nil {
			turn = m.Turn.String() + " " + string(m.TurnBy)
		}
		return []any{turn, m.LowGas.String(), m.LowGasBy}
	}
	p.told(part, 1, `[{"dive_id": null, "turn": {"value": 90, "unit": "bar"}, "low": {"value": 20, "unit": "bar"}}]`)
	require.Equal(t, []any{"90 bar briefing", "50 bar", signal.ByFloor}, marks(), "told less than the floor")
	p.told(part, 2, `[{"dive_id": null, "turn": null, "low": {"value": 70, "unit": "bar"}}]`)
	require.Equal(t, []any{"none", "70 bar", signal.ByBriefing}, marks(), "the newest briefing")
	p.plan(nil, read(120, "bar"), read(60, "bar"), part)
	require.Equal(t, []any{"120 bar plan", "70 bar", signal.ByBriefing}, marks())
	require.Contains(t, p.found(t, p.open, gas(part, read(70, "bar"), nil, sunday)),
		signal.RuleLowGasReached.ID)
	p.plan(nil, read(120, "bar"), read(80, "bar"), part)
	require.Equal(t, []any{"120 bar plan", "80 bar", signal.ByPlan}, marks())
	p.told(part, 3, `null`)
	require.Equal(t, []any{"120 bar plan", "80 bar", signal.ByPlan}, marks(),
		"a briefing that told nothing takes nothing away")

	// Somebody else's figures and another dive's are not theirs.
	mate := p.inOpen[p.enrolments[1]]
	p.told(mate, 1, `[{"dive_id": "`+p.dives[1].String()+
		`", "turn": null, "low": {"value": 99, "unit": "bar"}}]`)
	c := gas(mate, read(90, "bar"), nil, sunday)
	c.DiveID = &p.dives[0]
	require.NotContains(t, p.found(t, p.open, c), signal.RuleLowGasReached.ID)
	c.ID, c.DiveID = uuid.New(), &p.dives[1]
	require.Contains(t, p.found(t, p.open, c), signal.RuleLowGasReached.ID)
}

// A simulated low of a drill is kept and shown as that, and nobody is alarmed.
func TestASimulatedReadingAlarmsNobody(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	_, err := p.timesIn(p.dives[0], p.in(part, sunday))
	require.NoError(t, err)
	truly := gas(part, read(150, "bar"), read(150, "bar"), sunday.Add(2*time.Minute))
	drill := gas(part, read(40, "bar"), read(50, "bar"), sunday.Add(3*time.Minute))
	drill.Simulated = true
	p.Clock(sunday.Add(4 * time.Minute))
	require.Empty(t, p.found(t, p.open, truly))
	require.Equal(t, []string{"signal.over_reported"}, p.found(t, p.open, drill),
		"the report is judged: that is what the drill is for")
	w := p.watched(t, part)
	require.Equal(t, truly.ID, w.Last.ID)
	require.Equal(t, drill.ID, w.Simulated.ID)
	require.Empty(t, w.Reached)
	require.Empty(t, w.Findings())
	require.Equal(t, "a trend needs two readings of the gauge at different times", w.NoTrend)
	require.True(t, p.gasOf(t, part).Dives[0].Checks[1].Simulated)
	require.Equal(t, 1, p.Count(`SELECT FROM training_gas_check`), "no breathing rate is learned from it")
	again := gas(part, read(145, "bar"), read(140, "bar"), sunday.Add(4*time.Minute))
	require.Empty(t, p.found(t, p.open, again))
	require.Nil(t, p.watched(t, part).Simulated, "a newer look shows the gas")
	again.Simulated = true
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{again})
	require.NoError(t, err)
	require.Equal(t, "id_reused", out[0].Refusal.Code, "said to be simulated it is another entry")
	real40 := gas(part, read(40, "bar"), read(40, "bar"), sunday.Add(5*time.Minute))
	require.Equal(t, []string{"signal.low_gas_reached"}, p.found(t, p.open, real40), "in the same drill")
	require.Equal(t, journal.AlreadyRecorded, func() journal.Status {
		out, err := p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{drill})
		require.NoError(t, err)
		return out[0].Status
	}())
}

// A start pressure is held against the same as a gas check: the centre's floor, 50
// bar in open water unless set, and what was told (the figures are our choice). The
// time in is recorded.
func TestAStartPressureIsHeldAgainstWhatWasAgreed(t *testing.T) {
	p := newPool(t, 3)
	part := func(i int) uuid.UUID { return p.inOpen[p.enrolments[i]] }
	p.told(part(1), 0, `[{"low": {"value": 80, "unit": "bar"}, "turn": {"value": 120, "unit": "bar"}}]`)
	dive := p.Dives(p.open)[0]
	for _, x := range []struct {
		name  string
		part  uuid.UUID
		start *units.Reading
		mark  any // "" for no finding
		limit string
	}{
		{"at the floor", part(0), read(50, "bar"), "low_gas", "50 bar"},
		{"below it, in the other unit", part(0), read(700, "psi"), "low_gas", "50 bar"},
		{"above it", part(0), read(60, "bar"), nil, ""},
		{"not known", part(2), nil, nil, ""},
		{"at what was told", part(1), read(80, "bar"), "low_gas", "80 bar"},
		{"at the turn", part(1), read(120, "bar"), "turn", "120 bar"},
		{"a full cylinder", part(1), read(200, "bar"), nil, ""},
	} {
		in := training.TimeIn{ID: uuid.New(), ParticipantID: x.part, InAt: sunday, Start: x.start}
		out, err := p.timesIn(dive, in)
		found := logged(t, out, err)[0].Findings
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

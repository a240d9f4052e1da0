package plans_test

import (
	"context"
	"encoding/json"
	"errors"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/briefings"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/plans"
	"tankside/internal/planview"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

func q(value float64, unit string) gasplan.Quantity {
	return gasplan.Quantity{Value: value, Unit: unit}
}

func qp(value float64, unit string) *gasplan.Quantity { return new(q(value, unit)) }

// bay is an open-water session of training dive 3 on Sunday 7 June 2026 at a
// site of 18 m, with a group of an instructor, an adult and a child of 11.
type bay struct {
	*scenetest.Fixture
	plans                    *plans.Service
	briefings                *briefings.Service
	course, session, group   uuid.UUID
	ines                     uuid.UUID // the instructor
	instructor, adult, child uuid.UUID // participants
}

func newBay(t *testing.T) *bay {
	t.Helper()
	b := &bay{Fixture: scenetest.New(t)}
	sessions := planview.New(versions.New[syllabus.Syllabus]())
	b.plans, b.briefings = plans.New(b.DB.DB, sessions), briefings.New(b.DB.DB, sessions)
	b.course = b.Course(syllabus.BuiltIn())
	b.session = b.Session(b.course, "open", "2026-06-07T08:00:00Z", "planned", 3)
	b.ines = b.Crew("Ines", "instructor")
	b.group = b.Group(b.session, "blue", b.ines)
	b.adult, b.child = b.student("Ada", "1990-01-01"), b.student("Kit", "2014-12-01")
	b.instructor = b.one(`SELECT id FROM participant WHERE role = 'in_charge' AND session_id = @id`, b.session)
	return b
}

func (b *bay) student(name, born string) uuid.UUID {
	person := b.Student(name, born)
	return b.Participant(b.session, &b.group, person, new(b.Enrol(b.course, person)), "student")
}

func (b *bay) one(sql string, id uuid.UUID) (out uuid.UUID) {
	_ = b.DB.InTx(context.Background(), b.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Row[uuid.UUID](ctx, tx, sql, pgx.StrictNamedArgs{"id": id})
		return err
	})
	return out
}

func (b *bay) ask(depth float64, who ...uuid.UUID) gasplan.PlanRequest {
	a := gasplan.PlanRequest{GroupID: &b.group,
		Dive: gasplan.DiveInput{Depth: q(depth, "m"), PlannedTime: q(20, "min")}}
	for _, p := range who {
		a.Divers = append(a.Divers,
			gasplan.DiverInput{ParticipantID: &p, Start: q(210, "bar"), BreathingRate: qp(18, "L/min"),
				Cylinder: gasplan.CylinderInput{WaterVolume: qp(12, "L"), WorkingPressure: qp(232, "bar")}})
	}
	return a
}

func (b *bay) plan(t *testing.T, a gasplan.PlanRequest) plans.Plan {
	t.Helper()
	p, created, err := b.plans.Create(t.Context(), b.As(b.ines), once.New(), b.session, a)
	require.NoError(t, err)
	require.True(t, created)
	return p
}

// accepted accepts every caution.
func accepted(l finding.List) (out []journal.Acceptance) {
	for _, f := range l.Only(finding.Caution) {
		out = append(out, journal.Acceptance{Rule: f.Rule, SubjectID: f.Subjects[0].ID, Reason: "looked at"})
	}
	return out
}

func refusalOf(t *testing.T, err error) finding.List {
	t.Helper()
	require.ErrorIs(t, err, fault.Refused.Err())
	var f *fault.Fault
	require.True(t, errors.As(err, &f))
	return f.Findings
}

// The built-in syllabus: from dive 3 to 18 m, under 12s to 12 m.
func TestEachParticipantsOwnDepthLimitCounts(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	p := b.plan(t, b.ask(15, b.instructor, b.adult, b.child))
	deep := p.Findings.Of(gas.DepthOverPerson)
	require.Len(t, deep, 1)
	require.Equal(t, b.child.String(), deep[0].Subjects[0].ID)
	require.Contains(t, deep[0].Message, "under 12")
	found := refusalOf(t, second(b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, accepted(p.Findings))))
	require.Len(t, found.Of(gas.DepthOverPerson), 1)

	stricter := b.ask(15, b.instructor, b.adult)
	stricter.Divers[1].DepthLimits = []gasplan.DepthLimit{{Depth: q(10, "m"), Because: "after a cold"},
		{Depth: q(30, "m"), Because: "a wish"}}
	p = b.plan(t, stricter)
	require.Len(t, p.Findings.Of(gas.DepthOverPerson), 1,
		"what the request says makes it stricter, and never looser")
	require.Len(t, p.Findings.Of(plans.LeftOut), 1, "the child is in no plan")
}

func second[T any](_ T, err error) error { return err }

// Who is confirmed knows what is known at that moment.
func TestWhatIsReportedMeanwhileIsFoundWhenThePlanIsConfirmed(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	p := b.plan(t, b.ask(10, b.instructor, b.adult, b.child))
	require.Empty(t, p.Findings.Of(gas.DemandingConditions))
	require.False(t, p.Findings.Forbids(), "%v", p.Findings)

	b.Exec(`UPDATE session SET visibility = '(1,m)' WHERE id = @id`,
		pgx.NamedArgs{"id": b.session})
	found := refusalOf(t, second(b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, nil)))
	require.Len(t, found.Of(gas.DemandingConditions), 1, "ISO 24801-3: visibility below 2 m is demanding")

	b.Exec(`UPDATE participant SET attendance = 'sat_out' WHERE id = @id`, pgx.NamedArgs{"id": b.adult})
	found = refusalOf(t, second(b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, accepted(found))))
	require.Len(t, found.Of(plans.NotThere), 1)

	again, _, err := b.plans.Replan(t.Context(), b.As(b.ines), once.New(), p.ID,
		gasplan.Change{Reason: "Ada sits out", LeaveOut: []uuid.UUID{b.adult}})
	require.NoError(t, err)
	require.Equal(t, &p.ID, again.Replaces)
	confirmed, err := b.plans.Confirm(t.Context(), b.As(b.ines), again.ID, accepted(again.Findings))
	require.NoError(t, err)
	require.Equal(t, "confirmed", confirmed.State())
	require.Equal(t, journal.AcceptedBy(accepted(again.Findings), b.ines, "Ines", *confirmed.ConfirmedAt),
		confirmed.Accepted)
	require.Equal(t, 2, b.Count(`SELECT * FROM plans_pressure WHERE (low).value >= 50 AND (low).unit = 'bar' AND (start).value = 210`))
}

// A centre that becomes more prudent overtakes plans that were made before.
func TestAPlanIsNotConfirmedWithLessThanIsAskedForNow(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	p := b.plan(t, b.ask(10, b.instructor, b.adult, b.child))
	_, err := b.plans.ChangeSettings(t.Context(), b.As(b.Manager), 1,
		func(c *gasplan.CentreGas) { c.Settings.Stress = 3 })
	require.NoError(t, err)
	found := refusalOf(t, second(b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, nil)))
	require.NotEmpty(t, found.Of(plans.Overtaken))
	again, _, err := b.plans.Replan(t.Context(), b.As(b.ines), once.New(), p.ID,
		gasplan.Change{Reason: "as the centre plans now"})
	require.NoError(t, err)
	require.Empty(t, again.Findings.Of(plans.Overtaken))
	require.Greater(t, again.Result.People[0].Low.Value, p.Result.People[0].Low.Value)
	require.True(t, again.Difference().People[0].Changed)
}

// The day of the crew counts: an instructor who was in confined water in the
// morning dives for the second time.
func TestEarlierSessionsOfTheDayAreTakenIn(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	morning := b.Session(b.course, "confined", "2026-06-07T04:00:00Z", "planned")
	b.Group(morning, "early", b.ines)
	p := b.plan(t, b.ask(10, b.instructor, b.adult, b.child))
	require.Len(t, p.Input.Divers[0].EarlierDives, 1)
	require.Equal(t, 2, p.Result.People[0].NoStop.OfDay)
	require.Equal(t, 1, p.Result.People[1].NoStop.OfDay)
	require.Empty(t, p.Input.Divers[1].EarlierDives)
}

func TestAStoredPlanRecomputesToTheSameAndStandsInTheLedger(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	p := b.plan(t, b.ask(10, b.instructor, b.adult, b.child))
	_, err := b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, accepted(p.Findings))
	require.NoError(t, err)
	read, err := b.plans.Get(t.Context(), b.As(b.ines), p.ID)
	require.NoError(t, err)
	result, err := gasplan.Calculate(read.Input)
	require.NoError(t, err)
	require.JSONEq(t, written(t, read.Result), written(t, result))
	require.Equal(t, gas.Version, read.Result.RuleBooks[0].Version)

	verify := func() ledger.Report {
		r, err := ledger.Verify(t.Context(), b.DB.DB, b.Centre, ledger.Join(plans.Ledger, journal.Ledger))
		require.NoError(t, err)
		return r
	}
	require.Empty(t, verify().Problems)
	b.Super(`UPDATE gas_plan SET result = jsonb_set(result, '{people,0,low,value}', '20')`)
	require.NotEmpty(t, verify().Problems, "a low-gas pressure that was quietly lowered is found")
}

func written(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

// Eight plans confirmed at once: one of them is the plan of record, and each
// has its turn.
func TestPlansConfirmedAtOnceTakeTurns(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	var plans []plans.Plan
	for range 8 {
		plans = append(plans, b.plan(t, b.ask(10, b.instructor, b.adult, b.child)))
	}
	var wait sync.WaitGroup
	errs := make([]error, len(plans))
	by := b.As(b.ines)
	for i, p := range plans {
		wait.Go(func() { errs[i] = second(b.plans.Confirm(t.Context(), by, p.ID, accepted(p.Findings))) })
	}
	wait.Wait()
	require.NoError(t, errors.Join(errs...))
	list, _, err := b.plans.List(t.Context(), b.As(b.ines), b.session, page.Request{Limit: 50})
	require.NoError(t, err)
	states := map[string]int{}
	for _, p := range list {
		states[p.State()]++
	}
	require.Equal(t, map[string]int{"confirmed": 1, "superseded": 7}, states)
	require.Equal(t, 3, b.Count(`SELECT * FROM plans_pressure`))
}

func TestAPlanIsForASessionInWaterThatIsNotOver(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	ask := b.ask(10, b.instructor, b.adult)
	for state, kind := range map[string]string{"closed": "open", "cancelled": "confined"} {
		over := b.Session(b.course, kind, "2026-06-06T08:00:00Z", state, 3)
		_, _, err := b.plans.Create(t.Context(), b.As(b.ines), once.New(), over, ask)
		require.ErrorIs(t, err, fault.Conflict.Err(), state)
	}
	ask.DiveID = new(uuid.New())
	_, _, err := b.plans.Create(t.Context(), b.As(b.ines), once.New(), b.session, ask)
	require.ErrorIs(t, err, fault.Refused.Err())
	_, _, err = b.plans.Create(t.Context(), b.As(b.ines), once.New(), uuid.New(), ask)
	require.ErrorIs(t, err, fault.NotFound.Err())
}

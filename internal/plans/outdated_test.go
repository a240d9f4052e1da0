package plans_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/briefings"
	"tankside/internal/dayview"
	"tankside/internal/gasplan"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/plans"
	"tankside/internal/readiness"
	"tankside/internal/units"
)

// confirm plans for the bay, changed as said, and confirms the plan.
func (b *bay) confirm(t *testing.T, a gasplan.PlanRequest) plans.Plan {
	t.Helper()
	p := b.plan(t, a)
	p, err := b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, accepted(p.Findings))
	require.NoError(t, err)
	return p
}

// brief briefs people of the bay, who say so; everybody for none.
func (b *bay) brief(t *testing.T, at time.Time, said briefings.Pressures, who ...uuid.UUID) briefings.Briefing {
	t.Helper()
	n := briefings.NewBriefing{Key: once.New(), SessionID: b.session, Convention: "digits_bar", BriefedAt: at,
		Pressures: said}
	for _, p := range who {
		n.People = append(n.People, briefings.NewPerson{PersonID: p})
	}
	if len(who) == 0 {
		who = []uuid.UUID{b.ines, b.person(b.adult), b.person(b.child)}
	}
	for _, p := range who {
		n.Acknowledged = append(n.Acknowledged, briefings.NewAcknowledgement{PersonID: p, How: briefings.SaidSo})
	}
	out, _, err := b.briefings.Record(t.Context(), b.As(b.ines), n)
	require.NoError(t, err)
	return out
}

func (b *bay) person(part uuid.UUID) uuid.UUID {
	return b.one(`SELECT person_id FROM participant WHERE id = @id`, part)
}

// outdated returns the people to be briefed again, by name.
func (b *bay) outdated(t *testing.T) map[string]readiness.ToldOtherwise {
	t.Helper()
	out := map[string]readiness.ToldOtherwise{}
	require.NoError(t, b.DB.InTx(t.Context(), b.Centre, func(ctx context.Context, tx *pg.Tx) error {
		v, err := dayview.One(ctx, tx, b.session, dayview.Everything)
		for _, o := range readiness.Outdated(v) {
			out[o.Name] = o
		}
		return err
	}))
	return out
}

// briefed returns the names of the people who count as briefed by a briefing.
func (b *bay) briefed(t *testing.T, id uuid.UUID) (names []string) {
	t.Helper()
	read, err := b.briefings.Get(t.Context(), b.As(b.ines), id)
	require.NoError(t, err)
	for _, p := range read.People {
		if p.BriefedAt != nil {
			names = append(names, p.Name)
		}
	}
	return names
}

// sets changes a person's pressures in a confirmed plan by SQL, so that a
// figure is what the test says and not what a calculation comes to.
func (b *bay) sets(p plans.Plan, part uuid.UUID, turn, low float64) {
	b.Super(fmt.Sprintf(`UPDATE gas_plan_person
		SET turn = '(%g,bar)', low = '(%g,bar)'
		WHERE plan_id = '%s' AND participant_id = '%s'`, turn, low, p.ID, part))
}

var bayMorning = time.Date(2026, 6, 7, 7, 0, 0, 0, time.UTC)

// Shown are turn and low-gas pressures rounded up to 10 bar (common practice):
// 62 and 68 bar are both shown as 70, 72 bar is shown as 80.
func TestAPlanConfirmedLaterAsksForANewBriefingOnlyOfWhomItTellsSomethingElse(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Clock(bayMorning)
	first := b.confirm(t, b.ask(10, b.instructor, b.adult, b.child))
	b.sets(first, b.adult, 121, 62)
	b.sets(first, b.child, 121, 62)
	given := b.brief(t, bayMorning, briefings.Pressures{})
	require.Empty(t, b.outdated(t))
	require.Equal(t, []string{"Ada", "Ines", "Kit"}, b.briefed(t, given.ID))

	b.Clock(bayMorning.Add(10 * time.Minute))
	second := b.confirm(t, b.ask(10, b.instructor, b.adult, b.child))
	b.sets(second, b.adult, 129, 68)
	b.sets(second, b.child, 121, 72)
	all := b.outdated(t)
	require.Len(t, all, 1, "Ada is shown the same as before")
	kit := all["Kit"]
	require.Equal(t, given.ID, kit.BriefingID)
	require.Len(t, kit.Changes, 1)
	require.Equal(t, second.ID, kit.Changes[0].PlanID)
	require.Equal(t, "Kit was told low-gas 70 bar; the plan confirmed since says low-gas 80 bar.",
		kit.Finding().Message)
	require.Equal(t, []string{"Ada", "Ines"}, b.briefed(t, given.ID))

	// Acknowledging what was said once more cures nothing; a new briefing does.
	_, err := b.briefings.RecordAcknowledgements(t.Context(), b.As(b.ines), given.ID,
		[]briefings.NewAcknowledgement{{ID: uuid.New(), PersonID: b.person(b.child), How: briefings.SaidSo,
			WitnessedAt: bayMorning.Add(10 * time.Minute)}})
	require.NoError(t, err)
	require.Equal(t, []string{"Ada", "Ines"}, b.briefed(t, given.ID))
	again := b.brief(t, bayMorning.Add(10*time.Minute), briefings.Pressures{}, b.person(b.child))
	require.Empty(t, b.outdated(t))
	require.Equal(t, []string{"Kit"}, b.briefed(t, again.ID))

	// Voided, what was told before is what was told.
	b.Exec(`INSERT INTO entry_void (centre_id, entry_id, reason, voided_by, token_id, voided_at)
		SELECT @centre, @id, 'a slip', @who, (SELECT id FROM token WHERE person_id = @who), @now`, pgx.NamedArgs{"id": again.ID, "who": b.ines})
	require.Contains(t, b.outdated(t), "Kit")

	// Who sits out is asked nothing.
	b.Exec(`UPDATE participant SET attendance = 'sat_out' WHERE id = @id`, pgx.NamedArgs{"id": b.child})
	require.Empty(t, b.outdated(t))
}

func read(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }

// Who confirms is told at once, and what was confirmed keeps it.
func TestWhoConfirmsAPlanIsToldWhomToBriefAgain(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Clock(bayMorning)
	b.brief(t, bayMorning, briefings.Pressures{Low: read(10, "bar")})
	p := b.confirm(t, b.ask(10, b.instructor, b.adult))
	again := p.Confirmed.Of(readiness.BriefAgain)
	require.Len(t, again, 1)
	require.Len(t, again[0].Subjects, 5,
		"Ada and Ines, each as participant and person, and the session; Kit is in no plan")
	require.Contains(t, again[0].Message,
		"Ada (told no start pressure, no turn pressure, low-gas 10 bar; now start 210 bar, turn ")
	require.Len(t, b.outdated(t), 2)

	b.brief(t, bayMorning, briefings.Pressures{})
	same := b.confirm(t, b.ask(10, b.instructor, b.adult))
	require.Empty(t, same.Confirmed.Of(readiness.BriefAgain),
		"another plan with the same figures changes nothing")
	require.Empty(t, b.outdated(t))
}

// A briefing that deliberately says something else than its plan stands while
// that plan counts.
func TestWhatABriefingSaidOtherwiseStandsWhileItsPlanCounts(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Clock(bayMorning)
	b.confirm(t, b.ask(10, b.instructor, b.adult))
	_, _, err := b.briefings.Record(t.Context(), b.As(b.ines),
		briefings.NewBriefing{Key: once.New(), SessionID: b.session, Convention: "digits_bar",
			BriefedAt: bayMorning,
			People: []briefings.NewPerson{{PersonID: b.person(b.adult),
				Pressures: briefings.Pressures{Low: read(100, "bar")}}}})
	require.NoError(t, err)
	require.Empty(t, b.outdated(t))
	b.confirm(t, b.ask(10, b.instructor, b.adult))
	require.Contains(t, b.outdated(t), "Ada", "the plan that counts now says less than she was told")
}

// A plan for one dive concerns that dive; what was told for all dives is what
// was told for it too. A plan for all concerns the dives without one.
func TestWhichDivesAPlanConfirmedLaterConcerns(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Exec(`INSERT INTO dive (centre_id, id, session_id, number) VALUES (@centre, gen_random_uuid(), @session, 2)`, pgx.NamedArgs{"session": b.session})
	dives := b.Dives(b.session)
	require.Len(t, dives, 2)
	b.Clock(bayMorning)
	all := b.confirm(t, b.ask(10, b.instructor, b.adult))
	b.sets(all, b.adult, 120, 60)
	b.sets(all, b.instructor, 120, 60)
	b.brief(t, bayMorning, briefings.Pressures{})
	later := bayMorning.Add(10 * time.Minute)
	b.Clock(later)
	second := b.ask(10, b.instructor, b.adult)
	second.DiveID = &dives[1]
	p := b.confirm(t, second)
	b.sets(p, b.adult, 120, 80)
	b.sets(p, b.instructor, 120, 60)
	ada := b.outdated(t)["Ada"]
	require.Equal(t, "Ada was told low-gas 60 bar on dive 2; the plan confirmed since says low-gas 80 bar on dive 2.", ada.Finding().Message)
	require.Empty(t, ada.At(dives[0], later.Add(time.Minute)).Changes)
	require.Empty(t, ada.At(dives[1], later.Add(-time.Minute)).Changes,
		"who went in before knew what counted then")
	require.Len(t, ada.At(dives[1], later.Add(time.Minute)).Changes, 1)

	other := b.confirm(t, b.ask(10, b.instructor, b.adult))
	b.sets(other, b.adult, 120, 90)
	b.sets(other, b.instructor, 120, 60)
	ada = b.outdated(t)["Ada"]
	for i, now := range []float64{90, 80} {
		changes := ada.At(dives[i], later.Add(time.Minute)).Changes
		require.Len(t, changes, 1)
		require.Equal(t, units.Read(now, "bar"), changes[0].Now)
	}
}

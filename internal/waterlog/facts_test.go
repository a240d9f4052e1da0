package waterlog_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// Impossible pressures: negative, above 1.5 times the rating, or over 350 bar
// (our choice, above every rating in the trade).
func TestImpossiblePressures(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	rated := func(start, rating *units.Reading) waterlog.TimeIn {
		in := p.In(part, pooltest.Sunday)
		in.Start, in.Rating = start, rating
		return in
	}
	out, err := p.TimesIn(p.OpenDives[0], rated(pooltest.Read(310, "bar"), pooltest.Read(207, "bar")),
		rated(pooltest.Read(320, "bar"), pooltest.Read(207, "bar")), rated(pooltest.Read(-1, "bar"), nil),
		rated(pooltest.Read(351, "bar"), pooltest.Read(300, "bar")), rated(nil,
			pooltest.Read(0, "bar")), rated(pooltest.Read(4500, "psi"),
			pooltest.Read(3000, "psi")), rated(pooltest.Read(4600, "psi"), pooltest.Read(3000, "psi")))
	require.NoError(t, err)
	for i, want := range []journal.Status{journal.Recorded, journal.NotRecorded, journal.NotRecorded,
		journal.NotRecorded, journal.NotRecorded, journal.Recorded, journal.NotRecorded} {
		require.Equal(t, want, out[i].Status, i)
	}
	require.Equal(t, "/items/1/start_pressure", out[1].Refusal.Findings[0].Pointer)
	// 1.5 times the higher of the two ratings, 207 bar and 3000 psi (206.8 bar).
	// Who posts a reading can look again; a batch may bring the time in later.
	possible, above := pooltest.Gas(part, pooltest.Read(310.5, "bar"), nil,
		pooltest.Sunday), pooltest.Gas(part, pooltest.Read(311, "bar"), nil, pooltest.Sunday)
	posted, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{possible, above})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, posted[0].Status)
	require.Empty(t, posted[0].Findings.Of(watercheck.AboveRating))
	require.Equal(t, journal.NotRecorded, posted[1].Status)
	require.Equal(t, "/items/1/reading", posted[1].Refusal.Findings[0].Pointer)
	require.Contains(t, posted[1].Refusal.Message,
		"311 bar is above 310.5 bar, one and a half times the cylinder's rating of 207 bar")
	var checks []journal.Result
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		checks, err = p.Waterlog.EnterGasChecks(ctx, p.By, tx, p.Open, []waterlog.GasCheck{possible, above})
		return err
	}))
	require.Equal(t, []journal.Status{journal.AlreadyRecorded, journal.Recorded},
		[]journal.Status{checks[0].Status, checks[1].Status})
	require.NotEmpty(t, checks[1].Findings.Of(watercheck.AboveRating))
	list, _, err := p.Waterlog.GasChecks(t.Context(), p.By, p.Open, nil, page.Request{Limit: 10})
	require.NoError(t, err)
	for _, c := range list {
		require.Equal(t, c.ID == checks[1].ID, len(c.Findings.Of(watercheck.AboveRating)) == 1,
			"found on reading too")
	}
	ends, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0],
		[]waterlog.TimeOut{{ID: uuid.New(), StartID: out[0].ID, OutAt: pooltest.Sunday.Add(time.Hour),
			End: pooltest.Read(311, "bar")}})
	require.NoError(t, err)
	require.Equal(t, "invalid_request", ends[0].Refusal.Code)
}

func TestWhoCanHaveSeenIt(t *testing.T) {
	p := pooltest.New(t, 1)
	other, student := p.Crew("Olga Other", "instructor"), p.PersonOf(p.Enrolments[0])
	for _, c := range []struct {
		name   string
		caller uuid.UUID
		saw    *uuid.UUID
		want   string
	}{
		{"crew, the caller", p.Assistant, nil, ""},
		{"crew, told by an instructor of another session", other, &p.Assistant, ""},
		{"a manager", p.Manager, nil, ""},
		{"a manager, told by somebody else", other, &p.Manager, ""},
		{"an instructor of another session", other, nil, "unknown_reference"},
		{"a student", p.Instructor, &student, "unknown_reference"},
		{"nobody known", p.Instructor, new(uuid.New()), "unknown_reference"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check := pooltest.Gas(p.InOpen[p.Enrolments[0]], pooltest.Read(187, "bar"),
				pooltest.Read(180, "bar"), pooltest.Sunday)
			check.WitnessedBy = c.saw
			out, err := p.Waterlog.LogGasChecks(t.Context(), p.As(c.caller), p.Open, []waterlog.GasCheck{check})
			require.NoError(t, err)
			if c.want == "" {
				require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
				return
			}
			require.Equal(t, c.want, out[0].Refusal.Code)
		})
	}
	list, _, err := p.Waterlog.GasChecks(t.Context(), p.By, p.Open, nil, page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 4)
}

// One item's refusal never undoes another's, and what is repeated is answered
// as recorded only where it was.
func TestEachItemOfManyIsAnsweredByItself(t *testing.T) {
	p := pooltest.New(t, 2)
	part := p.InOpen[p.Enrolments[0]]
	good := pooltest.Gas(part, pooltest.Read(187, "bar"), pooltest.Read(180, "bar"), pooltest.Sunday)
	bad := pooltest.Gas(part, pooltest.Read(360, "bar"), nil, pooltest.Sunday)
	reused := good
	reused.Signalled = pooltest.Read(190, "bar")
	elsewhere := pooltest.Gas(p.InConfined[p.Enrolments[0]], nil, nil, pooltest.Sunday)
	noDive := pooltest.Gas(part, pooltest.Read(187, "bar"), nil, pooltest.Sunday)
	noDive.DiveID = new(p.Dives(p.Confined)[0])
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open,
		[]waterlog.GasCheck{good, good, reused, bad, bad, elsewhere, noDive})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.Equal(t, journal.AlreadyRecorded, out[1].Status)
	for i, want := range []string{"id_reused", "invalid_request", "invalid_request", "unknown_reference",
		"unknown_reference"} {
		require.Equal(t, want, out[i+2].Refusal.Code, i+2)
	}
	require.Equal(t, 1, p.Count(`SELECT 1 FROM gas_check`))

	// The same words about another dive are another entry.
	in := p.In(part, pooltest.Sunday)
	first, err := p.TimesIn(p.OpenDives[0], in)
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, first[0].Status)
	again, err := p.TimesIn(p.OpenDives[0], in)
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, again[0].Status)
	other, err := p.TimesIn(p.OpenDives[1], in)
	require.NoError(t, err)
	require.Equal(t, "id_reused", other[0].Refusal.Code)
}

// An entry that is sent twice at once is recorded once, and both are told so.
func TestAnEntrySentTwiceAtOnceIsRecordedOnce(t *testing.T) {
	p := pooltest.New(t, 1)
	check := pooltest.Gas(p.InOpen[p.Enrolments[0]], pooltest.Read(187, "bar"), pooltest.Read(180, "bar"),
		pooltest.Sunday)
	const clients = 8
	statuses := make(chan journal.Status, clients)
	for range clients {
		go func() {
			out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{check})
			if err != nil {
				statuses <- journal.Status(err.Error())
				return
			}
			statuses <- out[0].Status
		}()
	}
	n := map[journal.Status]int{}
	for range clients {
		n[<-statuses]++
	}
	require.Equal(t, map[journal.Status]int{journal.Recorded: 1, journal.AlreadyRecorded: clients - 1}, n)
}

// Out of gas: breathe from the buddy's alternate for at least 1 min while
// swimming (instructor manuals, seen).
func TestAttemptsAreHeldAgainstTheCriterion(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InConfined[p.Enrolments[0]]
	try := func(met bool, seconds float64, change ...func(*waterlog.Attempt)) journal.Result {
		a := waterlog.Attempt{ID: uuid.New(), ParticipantID: part, Skill: "gas-receiving",
			Role: new("receiver"), Met: met, WitnessedAt: p.WitnessedAt,
			Measures: []waterlog.Measured{{Name: "time-sharing", Value: units.DecimalOf(seconds),
				Unit: units.UnitSecond}}}
		for _, c := range change {
			c(&a)
		}
		out, err := p.Waterlog.LogAttempts(t.Context(), p.By, p.Confined, []waterlog.Attempt{a})
		require.NoError(t, err)
		return out[0]
	}
	require.Empty(t, try(true, 60).Findings.Of(syllabus.AttemptBelowCriterion))
	short := try(true, 59)
	require.NotEmpty(t, short.Findings.Of(syllabus.AttemptBelowCriterion),
		"a claim that the measure contradicts")
	require.NotEmpty(t, try(true, 60,
		func(a *waterlog.Attempt) { a.Role = new("donor") }).Findings.Of(syllabus.AttemptRole))
	try(false, 20, func(a *waterlog.Attempt) { a.Reason = new("let go of the alternate") })
	twice := try(true, 60, func(a *waterlog.Attempt) { a.Measures = append(a.Measures, a.Measures[0]) })
	require.Equal(t, "/items/0/measures/1/name", twice.Refusal.Findings[0].Pointer)
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *waterlog.Attempt) { a.Skill = "juggling" }).Refusal.Code)
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *waterlog.Attempt) { a.DiveID = &p.OpenDives[0] }).Refusal.Code, "a dive of another session")
	crew := p.Count(`SELECT 1 FROM drill_attempt`)
	var charge uuid.UUID
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		charge, err = pg.Row[uuid.UUID](ctx, tx,
			`SELECT id FROM participant WHERE session_id = @s AND role = 'in_charge'`, map[string]any{"s": p.Confined})
		return err
	}))
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *waterlog.Attempt) { a.ParticipantID = charge }).Refusal.Code, "an instructor learns nothing here")
	require.Equal(t, crew, p.Count(`SELECT 1 FROM drill_attempt`))

	list, _, err := p.Waterlog.Attempts(t.Context(), p.By, p.Confined, []uuid.UUID{part},
		page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 4)
	byID := slices.IndexFunc(list, func(a waterview.Attempt) bool { return a.ID == short.ID })
	require.True(t, list[byID].Claimed)
	require.False(t, list[byID].Met)
}

// A make-up in another course's session is judged by the student's own syllabus.
func TestAMakeUpIsJudgedByTheOwnSyllabus(t *testing.T) {
	p := pooltest.New(t, 1)
	y := syllabus.BuiltIn()
	k := *y.Skill(pooltest.First())
	k.Code = "only-here"
	y.Skills = append(slices.Clone(y.Skills), k)
	e := p.Enrol(p.Course(y), p.Student("Maya Makeup", "1995-05-05"))
	part := p.Participant(p.Confined, nil, p.PersonOf(e), &e, "student")
	a := waterlog.Attempt{ID: uuid.New(), ParticipantID: part, Skill: "only-here", Met: true,
		WitnessedAt: p.WitnessedAt}
	b := a
	b.ID, b.ParticipantID = uuid.New(), p.InConfined[p.Enrolments[0]]
	out, err := p.Waterlog.LogAttempts(t.Context(), p.By, p.Confined, []waterlog.Attempt{a, b})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	require.Equal(t, "unknown_reference", out[1].Refusal.Code)
}

func TestATheoryResultNamesWhatThereIs(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	result := func(change func(*assessment.NewTheoryResult)) error {
		r := assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: e, Part: syllabus.BuiltIn().Theory[0].Code,
			Percent: 90, WitnessedAt: p.WitnessedAt, Digest: []byte("x")}
		change(&r)
		_, _, err := p.Assessment.LogResult(t.Context(), p.By, r)
		return err
	}
	require.NoError(t, result(func(r *assessment.NewTheoryResult) { r.SessionID = &p.Confined }))
	require.NoError(t, result(func(r *assessment.NewTheoryResult) { r.WitnessedBy = &p.Assistant }))
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) { r.SessionID = new(uuid.New()) }),
		fault.Refused.Err())
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) { r.WitnessedBy = new(uuid.New()) }),
		fault.Refused.Err())
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) { r.WitnessedBy = new(p.PersonOf(e)) }),
		fault.Refused.Err(), "a student marks nothing")
	other := p.Crew("Olga Other", "instructor")
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) { r.SessionID, r.WitnessedBy = &p.Confined, &other }),
		fault.Refused.Err(), "no crew of that session")
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) { r.EnrolmentID = uuid.New() }), fault.NotFound.Err())
	require.ErrorIs(t, result(func(r *assessment.NewTheoryResult) {
		r.WitnessedAt = time.Date(2026, 6, 7, 18, 6, 0, 0,
			time.UTC)
	}), fault.Malformed.Err(), "6 min ahead")
	require.Equal(t, 2, p.Count(`SELECT 1 FROM theory_result`))
}

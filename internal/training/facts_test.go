package training_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
)

// Impossible pressures: negative, above 1.5 times the rating, or over 350 bar
// (our choice, above every rating in the trade).
func TestImpossiblePressures(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	rated := func(start, rating *units.Reading) training.TimeIn {
		in := p.in(part, sunday)
		in.Start, in.Rating = start, rating
		return in
	}
	out, err := p.timesIn(p.dives[0], rated(read(310, "bar"), read(207, "bar")),
		rated(read(320, "bar"), read(207, "bar")), rated(read(-1, "bar"), nil),
		rated(read(351, "bar"), read(300, "bar")), rated(nil, read(0, "bar")), rated(read(4500, "psi"),
			read(3000, "psi")), rated(read(4600, "psi"), read(3000, "psi")))
	require.NoError(t, err)
	for i, want := range []journal.Status{journal.Recorded, journal.NotRecorded, journal.NotRecorded,
		journal.NotRecorded, journal.NotRecorded, journal.Recorded, journal.NotRecorded} {
		require.Equal(t, want, out[i].Status, i)
	}
	require.Equal(t, "/items/1/start_pressure", out[1].Refusal.Findings[0].Pointer)
	// 1.5 times the higher of the two ratings, 207 bar and 3000 psi (206.8 bar).
	// Who posts a reading can look again; a batch may bring the time in later.
	possible, above := gas(part, read(310.5, "bar"), nil, sunday), gas(part, read(311, "bar"), nil, sunday)
	posted, err := p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{possible, above})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, posted[0].Status)
	require.Empty(t, posted[0].Findings.Of(training.AboveRating))
	require.Equal(t, journal.NotRecorded, posted[1].Status)
	require.Equal(t, "/items/1/reading", posted[1].Refusal.Findings[0].Pointer)
	require.Contains(t, posted[1].Refusal.Message,
		"311 bar is above 310.5 bar, one and a half times the cylinder's rating of 207 bar")
	var checks []journal.Result
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		checks, err = p.service.EnterGasChecks(ctx, p.by, tx, p.open, []training.GasCheck{possible, above})
		return err
	}))
	require.Equal(t, []journal.Status{journal.AlreadyRecorded, journal.Recorded},
		[]journal.Status{checks[0].Status, checks[1].Status})
	require.NotEmpty(t, checks[1].Findings.Of(training.AboveRating))
	list, _, err := p.service.GasChecks(t.Context(), p.by, p.open, nil, page.Request{Limit: 10})
	require.NoError(t, err)
	for _, c := range list {
		require.Equal(t, c.ID == checks[1].ID, len(c.Findings.Of(training.AboveRating)) == 1,
			"found on reading too")
	}
	ends, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0],
		[]training.TimeOut{{ID: uuid.New(), StartID: out[0].ID, OutAt: sunday.Add(time.Hour),
			End: read(311, "bar")}})
	require.NoError(t, err)
	require.Equal(t, "invalid_request", ends[0].Refusal.Code)
}

func TestWhoCanHaveSeenIt(t *testing.T) {
	p := newPool(t, 1)
	other, student := p.Crew("Olga Other", "instructor"), p.PersonOf(p.enrolments[0])
	for _, c := range []struct {
		name   string
		caller uuid.UUID
		saw    *uuid.UUID
		want   string
	}{
		{"crew, the caller", p.assistant, nil, ""},
		{"crew, told by an instructor of another session", other, &p.assistant, ""},
		{"a manager", p.Manager, nil, ""},
		{"a manager, told by somebody else", other, &p.Manager, ""},
		{"an instructor of another session", other, nil, "unknown_reference"},
		{"a student", p.instructor, &student, "unknown_reference"},
		{"nobody known", p.instructor, new(uuid.New()), "unknown_reference"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check := gas(p.inOpen[p.enrolments[0]], read(187, "bar"), read(180, "bar"), sunday)
			check.WitnessedBy = c.saw
			out, err := p.service.LogGasChecks(t.Context(), p.As(c.caller), p.open, []training.GasCheck{check})
			require.NoError(t, err)
			if c.want == "" {
				require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
				return
			}
			require.Equal(t, c.want, out[0].Refusal.Code)
		})
	}
	list, _, err := p.service.GasChecks(t.Context(), p.by, p.open, nil, page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 4)
}

// One item's refusal never undoes another's, and what is repeated is answered
// as recorded only where it was.
func TestEachItemOfManyIsAnsweredByItself(t *testing.T) {
	p := newPool(t, 2)
	part := p.inOpen[p.enrolments[0]]
	good := gas(part, read(187, "bar"), read(180, "bar"), sunday)
	bad := gas(part, read(360, "bar"), nil, sunday)
	reused := good
	reused.Signalled = read(190, "bar")
	elsewhere := gas(p.inConfined[p.enrolments[0]], nil, nil, sunday)
	noDive := gas(part, read(187, "bar"), nil, sunday)
	noDive.DiveID = new(p.Dives(p.confined)[0])
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open,
		[]training.GasCheck{good, good, reused, bad, bad, elsewhere, noDive})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.Equal(t, journal.AlreadyRecorded, out[1].Status)
	for i, want := range []string{"id_reused", "invalid_request", "invalid_request", "unknown_reference",
		"unknown_reference"} {
		require.Equal(t, want, out[i+2].Refusal.Code, i+2)
	}
	require.Equal(t, 1, p.Count(`SELECT 1 FROM gas_check`))

	// The same words about another dive are another entry.
	in := p.in(part, sunday)
	first, err := p.timesIn(p.dives[0], in)
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, first[0].Status)
	again, err := p.timesIn(p.dives[0], in)
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, again[0].Status)
	other, err := p.timesIn(p.dives[1], in)
	require.NoError(t, err)
	require.Equal(t, "id_reused", other[0].Refusal.Code)
}

// An entry that is sent twice at once is recorded once, and both are told so.
func TestAnEntrySentTwiceAtOnceIsRecordedOnce(t *testing.T) {
	p := newPool(t, 1)
	check := gas(p.inOpen[p.enrolments[0]], read(187, "bar"), read(180, "bar"), sunday)
	const clients = 8
	statuses := make(chan journal.Status, clients)
	for range clients {
		go func() {
			out, err := p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{check})
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
	p := newPool(t, 1)
	part := p.inConfined[p.enrolments[0]]
	try := func(met bool, seconds float64, change ...func(*training.Attempt)) journal.Result {
		a := training.Attempt{ID: uuid.New(), ParticipantID: part, Skill: "gas-receiving",
			Role: new("receiver"), Met: met, WitnessedAt: p.witnessedAt,
			Measures: []training.Measured{{Name: "time-sharing", Value: units.DecimalOf(seconds),
				Unit: units.UnitSecond}}}
		for _, c := range change {
			c(&a)
		}
		out, err := p.service.LogAttempts(t.Context(), p.by, p.confined, []training.Attempt{a})
		require.NoError(t, err)
		return out[0]
	}
	require.Empty(t, try(true, 60).Findings.Of(syllabus.AttemptBelowCriterion))
	short := try(true, 59)
	require.NotEmpty(t, short.Findings.Of(syllabus.AttemptBelowCriterion),
		"a claim that the measure contradicts")
	require.NotEmpty(t, try(true, 60,
		func(a *training.Attempt) { a.Role = new("donor") }).Findings.Of(syllabus.AttemptRole))
	try(false, 20, func(a *training.Attempt) { a.Reason = new("let go of the alternate") })
	twice := try(true, 60, func(a *training.Attempt) { a.Measures = append(a.Measures, a.Measures[0]) })
	require.Equal(t, "/items/0/measures/1/name", twice.Refusal.Findings[0].Pointer)
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *training.Attempt) { a.Skill = "juggling" }).Refusal.Code)
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *training.Attempt) { a.DiveID = &p.dives[0] }).Refusal.Code, "a dive of another session")
	crew := p.Count(`SELECT 1 FROM drill_attempt`)
	var charge uuid.UUID
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		charge, err = pg.Row[uuid.UUID](ctx, tx,
			`SELECT id FROM participant WHERE session_id = @s AND role = 'in_charge'`, map[string]any{"s": p.confined})
		return err
	}))
	require.Equal(t, "unknown_reference",
		try(true, 60, func(a *training.Attempt) { a.ParticipantID = charge }).Refusal.Code, "an instructor learns nothing here")
	require.Equal(t, crew, p.Count(`SELECT 1 FROM drill_attempt`))

	list, _, err := p.service.Attempts(t.Context(), p.by, p.confined, []uuid.UUID{part},
		page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 4)
	byID := slices.IndexFunc(list, func(a training.AttemptLogged) bool { return a.ID == short.ID })
	require.True(t, list[byID].Claimed)
	require.False(t, list[byID].Met)
}

// A make-up in another course's session is judged by the student's own syllabus.
func TestAMakeUpIsJudgedByTheOwnSyllabus(t *testing.T) {
	p := newPool(t, 1)
	y := syllabus.BuiltIn()
	k := *y.Skill(first())
	k.Code = "only-here"
	y.Skills = append(slices.Clone(y.Skills), k)
	e := p.Enrol(p.Course(y), p.Student("Maya Makeup", "1995-05-05"))
	part := p.Participant(p.confined, nil, p.PersonOf(e), &e, "student")
	a := training.Attempt{ID: uuid.New(), ParticipantID: part, Skill: "only-here", Met: true,
		WitnessedAt: p.witnessedAt}
	b := a
	b.ID, b.ParticipantID = uuid.New(), p.inConfined[p.enrolments[0]]
	out, err := p.service.LogAttempts(t.Context(), p.by, p.confined, []training.Attempt{a, b})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	require.Equal(t, "unknown_reference", out[1].Refusal.Code)
}

func TestATheoryResultNamesWhatThereIs(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	result := func(change func(*training.Result)) error {
		r := training.Result{ID: uuid.New(), EnrolmentID: e, Part: syllabus.BuiltIn().Theory[0].Code,
			Percent: 90, WitnessedAt: p.witnessedAt, Digest: []byte("x")}
		change(&r)
		_, _, err := p.service.LogResult(t.Context(), p.by, r)
		return err
	}
	require.NoError(t, result(func(r *training.Result) { r.SessionID = &p.confined }))
	require.NoError(t, result(func(r *training.Result) { r.WitnessedBy = &p.assistant }))
	require.ErrorIs(t, result(func(r *training.Result) { r.SessionID = new(uuid.New()) }), fault.Refused.Err())
	require.ErrorIs(t, result(func(r *training.Result) { r.WitnessedBy = new(uuid.New()) }),
		fault.Refused.Err())
	require.ErrorIs(t, result(func(r *training.Result) { r.WitnessedBy = new(p.PersonOf(e)) }),
		fault.Refused.Err(), "a student marks nothing")
	other := p.Crew("Olga Other", "instructor")
	require.ErrorIs(t, result(func(r *training.Result) { r.SessionID, r.WitnessedBy = &p.confined, &other }),
		fault.Refused.Err(), "no crew of that session")
	require.ErrorIs(t, result(func(r *training.Result) { r.EnrolmentID = uuid.New() }), fault.NotFound.Err())
	require.ErrorIs(t, result(func(r *training.Result) {
		r.WitnessedAt = time.Date(2026, 6, 7, 18, 6, 0, 0,
			time.UTC)
	}), fault.Malformed.Err(), "6 min ahead")
	require.Equal(t, 2, p.Count(`SELECT 1 FROM theory_result`))
}

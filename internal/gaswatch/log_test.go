package gaswatch_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/signal"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// A session lists who is in charge first, then the crew, then the students, each by name in the order
// of the database.
func TestTheDiversOfAGasLogAreInTheOrderOfTheSession(t *testing.T) {
	p := pooltest.New(t, 1)
	p.Exec(`UPDATE person SET name = 'Zoe Instructor' WHERE id = @id`, pgx.NamedArgs{"id": p.Instructor})
	views, err := pg.InTx(t.Context(), p.DB.DB, p.Centre,
		func(ctx context.Context, tx *pg.Tx) ([]dayview.View, error) {
			var b pgx.Batch
			rows := dayview.Query{Sessions: []uuid.UUID{p.Open}, Want: dayview.Agreed}.Queue(&b)
			err := tx.Send(ctx, &b)
			return rows.Views(), err
		})
	require.NoError(t, err)
	var want, got []string
	for _, d := range views[0].Participants {
		want = append(want, d.PersonName)
	}
	require.Equal(t, "Zoe Instructor", want[0], "who is in charge comes first")
	l, err := p.Gaswatch.Log(t.Context(), p.By, p.Open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		got = append(got, d.Name)
	}
	require.Equal(t, want, got)
}

// An unlogged look is no lapse: only a log that somebody calls complete is
// judged, and what comes to it later cures the gap.
func TestLatenessIsJudgedOnlyWhereTheLogIsComplete(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	start, end := p.Dived(t, part, p.OpenDives[0], 10)
	at := p.Checks(t, part, 2, 4, 8)
	gaps := func() []signal.Gap { return p.GasOf(t, part).Dives[0].Gaps }
	complete := func(dive *uuid.UUID) uuid.UUID {
		out, err := p.Waterlog.CompleteLog(t.Context(), p.By, p.Open,
			[]waterlog.LogCompletion{{ID: uuid.New(), DiveID: dive, WitnessedAt: pooltest.Sunday.Add(2 * time.Hour)}})
		return pooltest.Logged(t, out, err)[0].ID
	}
	whole := complete(nil)
	require.Empty(t, gaps(), "nothing was agreed")
	p.Briefed(120)
	require.Len(t, gaps(), 1)
	require.Equal(t, []string{at[1].String(), at[2].String()}, []string{gaps()[0].FromID, gaps()[0].ToID})
	p.Void(t, whole)
	require.Empty(t, gaps(), "no longer complete")
	complete(&p.OpenDives[1])
	require.Empty(t, gaps(), "another dive is")
	complete(&p.OpenDives[0])
	require.Len(t, gaps(), 1)
	p.Checks(t, part, 6)
	require.Empty(t, gaps(), "a look that was logged late")

	p.Void(t, at[0])
	p.Void(t, at[2])
	require.Equal(t, []string{start.String(), at[1].String()}, []string{gaps()[0].FromID, gaps()[0].ToID},
		"from the time in")
	require.Equal(t, end.String(), gaps()[1].ToID, "to the time out")

	// The crew looks after its own gas: nobody looked at the assistant's.
	var assistant uuid.UUID
	l, err := p.Gaswatch.Log(t.Context(), p.By, p.Open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		if d.Role == "assistant" {
			assistant = d.ParticipantID
		}
	}
	p.Dived(t, assistant, p.OpenDives[0], 10)
	require.Empty(t, p.GasOf(t, assistant).Dives[0].Gaps)
}

func TestASessionClosedAsCompleteIsJudgedToo(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	p.Briefed(120)
	p.Dived(t, part, p.OpenDives[0], 10)
	require.Empty(t, p.GasOf(t, part).Dives[0].Gaps)
	p.Exec(`UPDATE session SET state = 'closed', ended_at = @at, log_complete = true WHERE id = @id`,
		pgx.NamedArgs{"id": p.Open, "at": pooltest.Sunday.Add(time.Hour)})
	require.Len(t, p.GasOf(t, part).Dives[0].Gaps, 1)
}

// A check belongs to the dive that it names, else to the one during which it
// was witnessed; the surface belongs to none.
func TestChecksBelongToTheirDives(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	early := pooltest.Gas(part, pooltest.Read(200, "bar"), pooltest.Read(200, "bar"),
		pooltest.Sunday.Add(-5*time.Minute))
	first := pooltest.Gas(part, pooltest.Read(150, "bar"), nil, pooltest.Sunday.Add(5*time.Minute))
	between := pooltest.Gas(part, pooltest.Read(90, "bar"), pooltest.Read(100, "bar"),
		pooltest.Sunday.Add(30*time.Minute))
	named := pooltest.Gas(part, pooltest.Read(198, "bar"), nil, pooltest.Sunday.Add(31*time.Minute))
	named.DiveID = &p.OpenDives[1]
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open,
		[]waterlog.GasCheck{named, between, first, early})
	pooltest.Logged(t, out, err)
	d := p.GasOf(t, part)
	require.Len(t, d.Dives, 2, "without times: what was seen together, and the dive that a check names")
	require.Len(t, d.Dives[0].Checks, 3)
	require.Empty(t, d.Surface)

	p.Dived(t, part, p.OpenDives[0], 20)
	d = p.GasOf(t, part)
	require.Equal(t, []uuid.UUID{first.ID}, idsOf(d.Dives[0].Checks))
	require.Equal(t, []uuid.UUID{named.ID}, idsOf(d.Dives[1].Checks))
	require.Equal(t, []uuid.UUID{early.ID, between.ID}, idsOf(d.Surface))
	require.Equal(t, []waterview.CheckCount{{Verdict: "over_reported", Count: 1}, {Verdict: "right", Count: 1},
		{Verdict: "unverified", Count: 2}}, d.Verdicts)
}

func idsOf(checks []waterview.GasCheck) (out []uuid.UUID) {
	for _, c := range checks {
		out = append(out, c.ID)
	}
	return out
}

func TestWhatCanBeAResponse(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	good := waterlog.Response{ID: uuid.New(), ParticipantID: part, What: signal.Turned, WitnessedAt: pooltest.Sunday}
	change := func(f func(*waterlog.Response)) waterlog.Response {
		r := good
		r.ID = uuid.New()
		f(&r)
		return r
	}
	out, err := p.Waterlog.LogResponses(t.Context(), p.By, p.Open, []waterlog.Response{good, good,
		change(func(r *waterlog.Response) { r.ID, r.What = good.ID, signal.AscentBegun }),
		change(func(r *waterlog.Response) { r.ParticipantID = p.InConfined[p.Enrolments[0]] }),
		change(func(r *waterlog.Response) { r.What = "danced" }),
		change(func(r *waterlog.Response) { r.DiveID = new(p.Dives(p.Confined)[0]) }),
		change(func(r *waterlog.Response) { r.WitnessedBy = new(p.PersonOf(p.Enrolments[0])) }),
		change(func(r *waterlog.Response) { r.WitnessedAt = time.Date(2026, 6, 7, 18, 6, 0, 0, time.UTC) })})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.Equal(t, journal.AlreadyRecorded, out[1].Status)
	for i, want := range []string{"id_reused", "unknown_reference", "unknown_reference", "unknown_reference",
		"unknown_reference", "invalid_request"} {
		require.Equal(t, want, out[i+2].Refusal.Code, i+2)
	}
	require.Equal(t, 1, p.Count(`SELECT 1 FROM gas_response`))
	_, err = p.Waterlog.LogResponses(t.Context(), p.By, uuid.New(), []waterlog.Response{good})
	require.ErrorIs(t, err, fault.NotFound.Err())

	done, err := p.Waterlog.CompleteLog(t.Context(), p.By, p.Open,
		[]waterlog.LogCompletion{{ID: uuid.New(), DiveID: new(p.Dives(p.Confined)[0]), WitnessedAt: pooltest.Sunday}})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", done[0].Refusal.Code)
}

// A student reads their own history and nobody else's.
func TestAStudentReadsTheOwnGasHistory(t *testing.T) {
	p := pooltest.New(t, 2)
	one, two := p.PersonOf(p.Enrolments[0]), p.PersonOf(p.Enrolments[1])
	part := p.InOpen[p.Enrolments[0]]
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Confined,
		[]waterlog.GasCheck{pooltest.Gas(p.InConfined[p.Enrolments[0]], pooltest.Read(187, "bar"),
			pooltest.Read(190, "bar"),
			p.WitnessedAt)})
	pooltest.Logged(t, out, err)
	p.Dived(t, part, p.OpenDives[0], 10)
	p.Checks(t, part, 2, 4)
	p.Checks(t, p.InOpen[p.Enrolments[1]], 3)

	read := func(as, of uuid.UUID, limit int, after *page.Place) ([]gaswatch.PastDives, *page.Place, error) {
		return p.Gaswatch.History(t.Context(), p.As(as), of, page.Request{Limit: limit, After: after})
	}
	list, next, err := read(one, one, 10, nil)
	require.NoError(t, err)
	require.Nil(t, next)
	require.Len(t, list, 2)
	require.Equal(t, []uuid.UUID{p.Open, p.Confined}, []uuid.UUID{list[0].SessionID, list[1].SessionID},
		"the newest first")
	require.Len(t, list[0].Checks, 2)
	require.Len(t, list[0].Dives, 1)
	require.Equal(t, []waterview.CheckCount{{Verdict: "over_reported", Count: 1}}, list[1].Verdicts)

	first, next, err := read(one, one, 1, nil)
	require.NoError(t, err)
	require.Equal(t, p.Open, first[0].SessionID)
	second, next, err := read(one, one, 1, next)
	require.NoError(t, err)
	require.Equal(t, p.Confined, second[0].SessionID)
	require.Nil(t, next)

	_, _, err = read(one, two, 10, nil)
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, _, err = read(p.Assistant, uuid.New(), 10, nil)
	require.ErrorIs(t, err, fault.NotFound.Err())
	list, _, err = read(p.Assistant, two, 10, nil)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Empty(t, list[0].Dives)
}

package training_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/training"
)

// briefed says that everybody in the open-water session heard that the gas is
// looked at every so many seconds.
func (p *pool) briefed(every int) {
	id := uuid.New()
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, @id, 'briefing', @session, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, ''`,
		pgx.NamedArgs{"id": id, "session": p.open, "by": p.instructor, "at": sunday.Add(-time.Hour)})
	p.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, check_every_s, content) VALUES (@centre, @id, @session, '{}', @every, '{}')`,
		pgx.NamedArgs{"id": id, "session": p.open, "every": every})
	p.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
		SELECT @centre, @id, person_id, 'bar', '[]', '' FROM participant WHERE session_id = @session`, pgx.NamedArgs{"id": id, "session": p.open})
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, p.id, 'acknowledgement', @session, p.id, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, '' FROM participant p WHERE p.session_id = @session`,
		pgx.NamedArgs{"session": p.open, "by": p.instructor, "at": sunday.Add(-time.Hour)})
	p.Exec(`INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how) SELECT @centre, p.id, @id, p.person_id, 'said_so' FROM participant p WHERE p.session_id = @session`,
		pgx.NamedArgs{"id": id, "session": p.open})
}

// dived records a dive of a participant, from sunday on, of so many minutes.
func (p *pool) dived(t *testing.T, participant uuid.UUID, dive uuid.UUID, minutes int) (start, end uuid.UUID) {
	t.Helper()
	in := p.in(participant, sunday)
	in.Start = read(200, "bar")
	_, err := p.timesIn(dive, in)
	require.NoError(t, err)
	out := training.TimeOut{ID: uuid.New(), StartID: in.ID,
		OutAt: sunday.Add(time.Duration(minutes) * time.Minute), Depth: read(9, "m")}
	_, err = p.service.LogTimesOut(t.Context(), p.by, dive, []training.TimeOut{out})
	require.NoError(t, err)
	return in.ID, out.ID
}

// logged insists that everything was recorded.
func logged(t *testing.T, out []journal.Result, err error) []journal.Result {
	t.Helper()
	require.NoError(t, err)
	for _, r := range out {
		require.Equal(t, journal.Recorded, r.Status, "%+v", r.Refusal)
	}
	return out
}

// gasOf gives the gas log of a participant in the open-water session.
func (p *pool) gasOf(t *testing.T, participant uuid.UUID) training.DiverLog {
	t.Helper()
	l, err := p.service.GasLog(t.Context(), p.by, p.open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		if d.ParticipantID == participant {
			return d
		}
	}
	require.Fail(t, "not in the log")
	return training.DiverLog{}
}

// A session lists who is in charge first, then the crew, then the students, each by name in the order
// of the database.
func TestTheDiversOfAGasLogAreInTheOrderOfTheSession(t *testing.T) {
	p := newPool(t, 1)
	p.Exec(`UPDATE person SET name = 'Zoe Instructor' WHERE id = @id`, pgx.NamedArgs{"id": p.instructor})
	views, err := pg.InTx(t.Context(), p.DB.DB, p.Centre,
		func(ctx context.Context, tx *pg.Tx) ([]dayview.View, error) {
			var b pgx.Batch
			rows := dayview.Query{Sessions: []uuid.UUID{p.open}, Want: dayview.Agreed}.Queue(&b)
			err := tx.Send(ctx, &b)
			return rows.Views(), err
		})
	require.NoError(t, err)
	var want, got []string
	for _, d := range views[0].Participants {
		want = append(want, d.PersonName)
	}
	require.Equal(t, "Zoe Instructor", want[0], "who is in charge comes first")
	l, err := p.service.GasLog(t.Context(), p.by, p.open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		got = append(got, d.Name)
	}
	require.Equal(t, want, got)
}

// checks records looks at so many minutes after sunday.
func (p *pool) checks(t *testing.T, participant uuid.UUID, minutes ...float64) (ids []uuid.UUID) {
	t.Helper()
	var list []training.GasCheck
	for _, m := range minutes {
		c := gas(participant, read(200-8*m, "bar"), nil, sunday.Add(time.Duration(m*float64(time.Minute))))
		list, ids = append(list, c), append(ids, c.ID)
	}
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open, list)
	logged(t, out, err)
	return ids
}

// An unlogged look is no lapse: only a log that somebody calls complete is
// judged, and what comes to it later cures the gap.
func TestLatenessIsJudgedOnlyWhereTheLogIsComplete(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	start, end := p.dived(t, part, p.dives[0], 10)
	at := p.checks(t, part, 2, 4, 8)
	gaps := func() []signal.Gap { return p.gasOf(t, part).Dives[0].Gaps }
	complete := func(dive *uuid.UUID) uuid.UUID {
		out, err := p.service.CompleteLog(t.Context(), p.by, p.open,
			[]training.LogCompletion{{ID: uuid.New(), DiveID: dive, WitnessedAt: sunday.Add(2 * time.Hour)}})
		return logged(t, out, err)[0].ID
	}
	whole := complete(nil)
	require.Empty(t, gaps(), "nothing was agreed")
	p.briefed(120)
	require.Len(t, gaps(), 1)
	require.Equal(t, []string{at[1].String(), at[2].String()}, []string{gaps()[0].FromID, gaps()[0].ToID})
	p.void(t, whole)
	require.Empty(t, gaps(), "no longer complete")
	complete(&p.dives[1])
	require.Empty(t, gaps(), "another dive is")
	complete(&p.dives[0])
	require.Len(t, gaps(), 1)
	p.checks(t, part, 6)
	require.Empty(t, gaps(), "a look that was logged late")

	p.void(t, at[0])
	p.void(t, at[2])
	require.Equal(t, []string{start.String(), at[1].String()}, []string{gaps()[0].FromID, gaps()[0].ToID},
		"from the time in")
	require.Equal(t, end.String(), gaps()[1].ToID, "to the time out")

	// The crew looks after its own gas: nobody looked at the assistant's.
	var assistant uuid.UUID
	l, err := p.service.GasLog(t.Context(), p.by, p.open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		if d.Role == "assistant" {
			assistant = d.ParticipantID
		}
	}
	p.dived(t, assistant, p.dives[0], 10)
	require.Empty(t, p.gasOf(t, assistant).Dives[0].Gaps)
}

func TestASessionClosedAsCompleteIsJudgedToo(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	p.briefed(120)
	p.dived(t, part, p.dives[0], 10)
	require.Empty(t, p.gasOf(t, part).Dives[0].Gaps)
	p.Exec(`UPDATE session SET state = 'closed', ended_at = @at, log_complete = true WHERE id = @id`,
		pgx.NamedArgs{"id": p.open, "at": sunday.Add(time.Hour)})
	require.Len(t, p.gasOf(t, part).Dives[0].Gaps, 1)
}

// A check belongs to the dive that it names, else to the one during which it
// was witnessed; the surface belongs to none.
func TestChecksBelongToTheirDives(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	early := gas(part, read(200, "bar"), read(200, "bar"), sunday.Add(-5*time.Minute))
	first := gas(part, read(150, "bar"), nil, sunday.Add(5*time.Minute))
	between := gas(part, read(90, "bar"), read(100, "bar"), sunday.Add(30*time.Minute))
	named := gas(part, read(198, "bar"), nil, sunday.Add(31*time.Minute))
	named.DiveID = &p.dives[1]
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open,
		[]training.GasCheck{named, between, first, early})
	logged(t, out, err)
	d := p.gasOf(t, part)
	require.Len(t, d.Dives, 2, "without times: what was seen together, and the dive that a check names")
	require.Len(t, d.Dives[0].Checks, 3)
	require.Empty(t, d.Surface)

	p.dived(t, part, p.dives[0], 20)
	d = p.gasOf(t, part)
	require.Equal(t, []uuid.UUID{first.ID}, idsOf(d.Dives[0].Checks))
	require.Equal(t, []uuid.UUID{named.ID}, idsOf(d.Dives[1].Checks))
	require.Equal(t, []uuid.UUID{early.ID, between.ID}, idsOf(d.Surface))
	require.Equal(t, []training.CheckCount{{Verdict: "over_reported", Count: 1}, {Verdict: "right", Count: 1},
		{Verdict: "unverified", Count: 2}}, d.Verdicts)
}

func idsOf(checks []training.GasCheckLogged) (out []uuid.UUID) {
	for _, c := range checks {
		out = append(out, c.ID)
	}
	return out
}

func TestWhatCanBeAResponse(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	good := training.GasResponse{ID: uuid.New(), ParticipantID: part, What: signal.Turned, WitnessedAt: sunday}
	change := func(f func(*training.GasResponse)) training.GasResponse {
		r := good
		r.ID = uuid.New()
		f(&r)
		return r
	}
	out, err := p.service.LogResponses(t.Context(), p.by, p.open, []training.GasResponse{good, good,
		change(func(r *training.GasResponse) { r.ID, r.What = good.ID, signal.AscentBegun }),
		change(func(r *training.GasResponse) { r.ParticipantID = p.inConfined[p.enrolments[0]] }),
		change(func(r *training.GasResponse) { r.What = "danced" }),
		change(func(r *training.GasResponse) { r.DiveID = new(p.Dives(p.confined)[0]) }),
		change(func(r *training.GasResponse) { r.WitnessedBy = new(p.PersonOf(p.enrolments[0])) }),
		change(func(r *training.GasResponse) { r.WitnessedAt = time.Date(2026, 6, 7, 18, 6, 0, 0, time.UTC) })})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.Equal(t, journal.AlreadyRecorded, out[1].Status)
	for i, want := range []string{"id_reused", "unknown_reference", "unknown_reference", "unknown_reference",
		"unknown_reference", "invalid_request"} {
		require.Equal(t, want, out[i+2].Refusal.Code, i+2)
	}
	require.Equal(t, 1, p.Count(`SELECT 1 FROM gas_response`))
	_, err = p.service.LogResponses(t.Context(), p.by, uuid.New(), []training.GasResponse{good})
	require.ErrorIs(t, err, fault.NotFound.Err())

	done, err := p.service.CompleteLog(t.Context(), p.by, p.open,
		[]training.LogCompletion{{ID: uuid.New(), DiveID: new(p.Dives(p.confined)[0]), WitnessedAt: sunday}})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", done[0].Refusal.Code)
}

// A student reads their own history and nobody else's.
func TestAStudentReadsTheOwnGasHistory(t *testing.T) {
	p := newPool(t, 2)
	one, two := p.PersonOf(p.enrolments[0]), p.PersonOf(p.enrolments[1])
	part := p.inOpen[p.enrolments[0]]
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.confined,
		[]training.GasCheck{gas(p.inConfined[p.enrolments[0]], read(187, "bar"), read(190, "bar"),
			p.witnessedAt)})
	logged(t, out, err)
	p.dived(t, part, p.dives[0], 10)
	p.checks(t, part, 2, 4)
	p.checks(t, p.inOpen[p.enrolments[1]], 3)

	read := func(as, of uuid.UUID, limit int, after *page.Place) ([]training.GasHistory, *page.Place, error) {
		return p.service.GasHistoryOf(t.Context(), p.As(as), of, page.Request{Limit: limit, After: after})
	}
	list, next, err := read(one, one, 10, nil)
	require.NoError(t, err)
	require.Nil(t, next)
	require.Len(t, list, 2)
	require.Equal(t, []uuid.UUID{p.open, p.confined}, []uuid.UUID{list[0].SessionID, list[1].SessionID},
		"the newest first")
	require.Len(t, list[0].Checks, 2)
	require.Len(t, list[0].Dives, 1)
	require.Equal(t, []training.CheckCount{{Verdict: "over_reported", Count: 1}}, list[1].Verdicts)

	first, next, err := read(one, one, 1, nil)
	require.NoError(t, err)
	require.Equal(t, p.open, first[0].SessionID)
	second, next, err := read(one, one, 1, next)
	require.NoError(t, err)
	require.Equal(t, p.confined, second[0].SessionID)
	require.Nil(t, next)

	_, _, err = read(one, two, 10, nil)
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, _, err = read(p.assistant, uuid.New(), 10, nil)
	require.ErrorIs(t, err, fault.NotFound.Err())
	list, _, err = read(p.assistant, two, 10, nil)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Empty(t, list[0].Dives)
}

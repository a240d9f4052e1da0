package pooltest

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// Told says that a participant's newest briefing told turn and low-gas pressures.
func (p *Pool) Told(participant uuid.UUID, minute int, figures string) {
	id := uuid.New()
	args := pgx.NamedArgs{"id": id, "session": p.Open, "by": p.Instructor,
		"at": Sunday.Add(time.Duration(minute-60) * time.Minute), "part": participant, "figures": figures}
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, @id, 'briefing', @session, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, ''`, args)
	p.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, content) VALUES (@centre, @id, @session, '{}', '{}')`, args)
	p.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
		SELECT @centre, @id, person_id, 'bar', @figures, '' FROM participant WHERE id = @part`, args)
}

// Found records one check and gives the rules that spoke, in the answer.
func (p *Pool) Found(t *testing.T, session uuid.UUID, c waterlog.GasCheck) []string {
	t.Helper()
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, session, []waterlog.GasCheck{c})
	return RulesIn(Logged(t, out, err)[0].Findings)
}

// Text reads one value as text.
func (p *Pool) Text(sql string) (out string) {
	err := p.DB.InTx(p.Context(), p.Centre,
		func(ctx context.Context, tx *pg.Tx) error { return tx.QueryRow(ctx, sql).Scan(&out) })
	if err != nil {
		panic(err)
	}
	return out
}

func (p *Pool) Accept(e uuid.UUID, edit func(*assessment.NewCredit)) (assessment.Credit, error) {
	n := assessment.NewCredit{Key: once.New(), EnrolmentID: e, What: "skill", DoneAtCentre: "North Quay Divers",
		DoneBy: "N. N.",
		DoneOn: time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC), Document: "referral 17"}
	edit(&n)
	c, _, err := p.Assessment.AcceptCredit(p.Context(), p.By, n)
	return c, err
}

func (p *Pool) Credit(t *testing.T, e uuid.UUID, skill string) assessment.Credit {
	t.Helper()
	c, err := p.Accept(e, func(n *assessment.NewCredit) { n.Code = &skill })
	require.NoError(t, err)
	return c
}

// Finish gives a student everything: skills by credit, theory passed here, the
// training dives done here, the first two on Sunday and the others the week after.
func (p *Pool) Finish(t *testing.T, e uuid.UUID) {
	t.Helper()
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		p.Credit(t, e, k.Code)
	}
	for i, part := range y.Theory {
		_, _, err := p.Assessment.LogResult(t.Context(), p.By,
			assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: e, Part: part.Code, Percent: 100,
				WitnessedAt: p.WitnessedAt, Digest: []byte{byte(i)}})
		require.NoError(t, err)
	}
	p.Dive(t, p.Open, p.OpenDives, e, time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC))
	next := p.Session(p.CourseID, "open", "2026-06-14T09:00:00Z", "under_way", 3, 4)
	g := p.Group(next, "blue", p.Instructor)
	p.InOpen[e] = p.Participant(next, &g, p.PersonOf(e), &e, "student")
	p.Clock(time.Date(2026, 6, 14, 18, 0, 0, 0, time.UTC))
	p.Dive(t, next, p.Dives(next), e, time.Date(2026, 6, 14, 9, 0, 0, 0, time.UTC))
}

// Dive logs dives of 30 min to 10 m, one after the other.
func (p *Pool) Dive(t *testing.T, session uuid.UUID, dives []uuid.UUID, e uuid.UUID, at time.Time) {
	t.Helper()
	for i, d := range dives {
		in := at.Add(time.Duration(i) * 90 * time.Minute)
		start := p.In(p.InOpen[e], in)
		_, err := p.TimesIn(d, start)
		require.NoError(t, err)
		out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, d,
			[]waterlog.TimeOut{{ID: uuid.New(), StartID: start.ID, OutAt: in.Add(30 * time.Minute),
				Depth: new(units.Read(10, units.UnitMetre))}})
		require.NoError(t, err)
		require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	}
}

func (p *Pool) Complete(e uuid.UUID) (out assessment.Completion, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, _, _, err = p.Assessment.Complete(ctx, p.By, tx, e, once.New(), nil)
		return err
	})
	return out, err
}

// Watched gives how a participant of the open-water session stands.
func (p *Pool) Watched(t *testing.T, participant uuid.UUID) gaswatch.Status {
	t.Helper()
	list, _, err := p.Gaswatch.Watch(t.Context(), p.By, []uuid.UUID{p.Open})
	require.NoError(t, err)
	for _, w := range list {
		if w.ParticipantID == participant {
			return w
		}
	}
	require.Fail(t, "not watched")
	return gaswatch.Status{}
}

// Void voids an entry as its witness does.
func (p *Pool) Void(t *testing.T, entry uuid.UUID) {
	t.Helper()
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, err := journal.Find(ctx, tx, entry)
		require.NoError(t, err)
		return journal.Void(ctx, p.By, tx, e, "another diver's")
	}))
}

// Briefed says that everybody in the open-water session heard that the gas is
// looked at every so many seconds.
func (p *Pool) Briefed(every int) {
	id := uuid.New()
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, @id, 'briefing', @session, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, ''`,
		pgx.NamedArgs{"id": id, "session": p.Open, "by": p.Instructor, "at": Sunday.Add(-time.Hour)})
	p.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, check_every_s, content) VALUES (@centre, @id, @session, '{}', @every, '{}')`,
		pgx.NamedArgs{"id": id, "session": p.Open, "every": every})
	p.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
		SELECT @centre, @id, person_id, 'bar', '[]', '' FROM participant WHERE session_id = @session`, pgx.NamedArgs{"id": id, "session": p.Open})
	p.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, p.id, 'acknowledgement', @session, p.id, @by, (SELECT id FROM token WHERE person_id = @by), @at, @at, '' FROM participant p WHERE p.session_id = @session`,
		pgx.NamedArgs{"session": p.Open, "by": p.Instructor, "at": Sunday.Add(-time.Hour)})
	p.Exec(`INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how) SELECT @centre, p.id, @id, p.person_id, 'said_so' FROM participant p WHERE p.session_id = @session`,
		pgx.NamedArgs{"id": id, "session": p.Open})
}

// Dived records a dive of a participant, from Sunday on, of so many minutes.
func (p *Pool) Dived(t *testing.T, participant uuid.UUID, dive uuid.UUID, minutes int) (start, end uuid.UUID) {
	t.Helper()
	in := p.In(participant, Sunday)
	in.Start = Read(200, "bar")
	_, err := p.TimesIn(dive, in)
	require.NoError(t, err)
	out := waterlog.TimeOut{ID: uuid.New(), StartID: in.ID,
		OutAt: Sunday.Add(time.Duration(minutes) * time.Minute), Depth: Read(9, "m")}
	_, err = p.Waterlog.LogTimesOut(t.Context(), p.By, dive, []waterlog.TimeOut{out})
	require.NoError(t, err)
	return in.ID, out.ID
}

// Logged insists that everything was recorded.
func Logged(t *testing.T, out []journal.Result, err error) []journal.Result {
	t.Helper()
	require.NoError(t, err)
	for _, r := range out {
		require.Equal(t, journal.Recorded, r.Status, "%+v", r.Refusal)
	}
	return out
}

// GasOf gives the gas log of a participant in the open-water session.
func (p *Pool) GasOf(t *testing.T, participant uuid.UUID) gaswatch.DiverLog {
	t.Helper()
	l, err := p.Gaswatch.Log(t.Context(), p.By, p.Open)
	require.NoError(t, err)
	for _, d := range l.Divers {
		if d.ParticipantID == participant {
			return d
		}
	}
	require.Fail(t, "not in the log")
	return gaswatch.DiverLog{}
}

// Checks records looks at so many minutes after Sunday.
func (p *Pool) Checks(t *testing.T, participant uuid.UUID, minutes ...float64) (ids []uuid.UUID) {
	t.Helper()
	var list []waterlog.GasCheck
	for _, m := range minutes {
		c := Gas(participant, Read(200-8*m, "bar"), nil, Sunday.Add(time.Duration(m*float64(time.Minute))))
		list, ids = append(list, c), append(ids, c.ID)
	}
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, list)
	Logged(t, out, err)
	return ids
}

// Plan confirms turn and low-gas pressures for participants on a dive, on every
// Dive of the open-water session for nil.
func (p *Pool) Plan(dive *uuid.UUID, turn, low *units.Reading, participants ...uuid.UUID) {
	id := uuid.New()
	args := pgx.NamedArgs{"id": id, "session": p.Open, "dive": dive, "by": p.Instructor,
		"turn": turn, "low": low, "parts": participants}
	p.Exec(`INSERT INTO gas_plan (centre_id, id, session_id, dive_id, asked, input, result, findings, token_id, planned_at, body_digest)
		SELECT @centre, @id, @session, @dive, '{}', '{}', '{}', '[]', (SELECT id FROM token WHERE person_id = @by), @now, ''`, args)
	p.Exec(`INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low, turn, start)
		SELECT @centre, @id, x, @low, @turn, '(200,bar)' FROM unnest(@parts::uuid[]) x`, args)
	p.Exec(`INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
		SELECT @centre, @id, @session, @dive, (SELECT count(*) + 1 FROM gas_plan_confirmed
			WHERE session_id = @session), '[]', '[]', @by,
			(SELECT id FROM token WHERE person_id = @by), @now`, args)
}

// TimesIn records who went in, as the desk does.
func (p *Pool) TimesIn(dive uuid.UUID, in ...waterlog.TimeIn) (out []journal.Result, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		views, err := dayview.Read(ctx, tx, dayview.Query{Dive: &dive, Want: dayview.Everything})
		if err == nil && len(views) == 0 {
			err = fault.NoSuch("dive")
		}
		if err != nil {
			return err
		}
		out, err = p.Waterlog.EnterTimesIn(ctx, p.By, tx, views[0], dive, in, nil)
		return err
	})
	return out, err
}

func (p *Pool) In(part uuid.UUID, at time.Time) waterlog.TimeIn {
	return waterlog.TimeIn{ID: uuid.New(), ParticipantID: part, InAt: at}
}

func Read(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }

func RulesIn(l finding.List) []string {
	out := make([]string, 0, len(l))
	for _, f := range l {
		out = append(out, f.Rule)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Sunday is when the open-water session is held.
var Sunday = time.Date(2026, 6, 7, 9, 30, 0, 0, time.UTC)

var AllOf = page.Request{Limit: 200}

// LoggedDives returns the dives of a session as they were logged, with what is found of
// them.
func (p *Pool) LoggedDives(session uuid.UUID) (out []waterlog.DiveLog, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		v, err := dayview.One(ctx, tx, session, dayview.Everything)
		if err != nil {
			return err
		}
		found, err := p.Check.Found(ctx, tx, v, nil)
		if err != nil {
			return err
		}
		out, err = p.Waterlog.Dives(ctx, tx, v, found)
		return err
	})
	return out, err
}

// Record returns the record of an enrolment, as a caller may read it.
func (p *Pool) Record(by actor.Actor, enrolment uuid.UUID) (out assessment.Record, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = p.Assessment.Record(ctx, by, tx, enrolment)
		return err
	})
	return out, err
}

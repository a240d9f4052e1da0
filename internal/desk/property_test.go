package desk_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/desk"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/when"
)

// crowd is a course with two sessions of two groups each, more students than
// fit, and more assistants than are needed.
type crowd struct {
	*scenetest.Fixture
	desk       *desk.Service
	sessions   *sessions.Service
	people     *people.Service
	by         actor.Actor
	course     uuid.UUID
	open       []uuid.UUID // sessions in open water, planned
	pool       []uuid.UUID // sessions in the pool: under way, to be opened, to be called off
	students   []uuid.UUID
	enrolments []uuid.UUID
	crew       []uuid.UUID
	mu         sync.Mutex
	answered   map[string]int
}

func newCrowd(t *testing.T) *crowd {
	t.Helper()
	c := &crowd{Fixture: scenetest.New(t), answered: map[string]int{}}
	all := app.NewServices(c.DB.DB)
	c.sessions, c.desk, c.people = all.Sessions, all.Desk, all.People
	c.by = c.As(c.Manager)
	c.Clock(time.Date(2026, 6, 1, 8, 0, 0, 0, time.UTC))
	c.course = c.Course(syllabus.BuiltIn())
	c.Session(c.course, "confined", "2026-06-01T09:00:00Z", "closed")
	for i := range 2 {
		c.open = append(c.open, c.Session(c.course, "open", fmt.Sprintf("2026-06-0%dT09:00:00Z", 6+i), "planned", 1))
	}
	for i := range 4 {
		c.crew = append(c.crew, c.Crew(fmt.Sprintf("Instructor %d", i), "instructor"))
	}
	for i := range 4 {
		c.crew = append(c.crew, c.Crew(fmt.Sprintf("Assistant %d", i), "assistant"))
	}
	for i, s := range c.open {
		for k, name := range []string{"blue", "red"} {
			_, _, _, err := c.sessions.OpenGroup(t.Context(), c.by, sessions.NewGroup{Key: once.New(), SessionID: s, Name: name, InCharge: c.crew[2*i+k]}, nil)
			require.NoError(t, err)
		}
	}
	for i := range 26 {
		born := "1990-01-01"
		if i%6 == 0 {
			born = "2012-12-12" // 13: the whole group is down to 4, 6, 8
		}
		id := c.Student(fmt.Sprintf("Student %02d", i), born)
		c.Paper(id, "consent", "valid", "2026-01-01", "")
		c.students, c.enrolments = append(c.students, id), append(c.enrolments, c.Enrol(c.course, id))
	}
	c.pools(t)
	return c
}

// one does one random thing. Whatever it is answered is lawful, but for a
// defect of ours.
func (c *crowd) one(r *rand.Rand) error {
	s := c.open[r.IntN(len(c.open))]
	if r.IntN(3) == 0 {
		s = c.pool[r.IntN(len(c.pool))]
	}
	switch r.IntN(13) {
	case 0, 1, 2:
		_, _, err := c.sessions.Place(c.Context(), c.by, sessions.Placement{CourseID: c.course, EnrolmentIDs: []uuid.UUID{c.enrolments[r.IntN(len(c.enrolments))]},
			SessionIDs: []uuid.UUID{s}, GroupName: []string{"blue", "red"}[r.IntN(2)]}, nil)
		return err
	case 3:
		g, err := c.group(r, s)
		if err != nil {
			return err
		}
		_, _, _, err = c.sessions.AddParticipant(c.Context(), c.by, sessions.NewParticipant{Key: once.New(), SessionID: s, GroupID: &g, PersonID: c.crew[r.IntN(len(c.crew))], Role: sessions.Assistant}, nil)
		return err
	case 4:
		p, err := c.part(r, s)
		if err != nil {
			return err
		}
		_, err = c.sessions.RemoveParticipant(c.Context(), c.by, p.ID, p.Version, nil)
		return err
	case 5:
		return c.regroup(r, s)
	case 6:
		p, err := c.part(r, s)
		if err != nil {
			return err
		}
		_, _, err = c.sessions.CallRoll(c.Context(), c.by, s, []sessions.NewRollCallEntry{{ID: uuid.New(), ParticipantID: &p.ID, WitnessedAt: time.Date(2026, 6, 1, 7, r.IntN(60), 0, 0, time.UTC),
			Attendance: []sessions.Attendance{sessions.Present, sessions.Late, sessions.Absent, sessions.SatOut, sessions.LeftEarly}[r.IntN(5)]}})
		return err
	case 7:
		return c.unexpected(r, s)
	case 8:
		return c.birthDate(r)
	case 9:
		g, err := c.group(r, s)
		if err != nil {
			return err
		}
		_, _, err = c.sessions.ReplaceInstructor(c.Context(), c.by, sessions.Replacement{GroupID: g, PersonID: c.crew[r.IntN(4)], Stays: r.IntN(2) == 0}, nil)
		return err
	case 10, 11:
		return c.further(r, s)
	}
	return c.other(r, s)
}

// other is what happens more seldom: limits, moves, conditions, withdrawals.
func (c *crowd) other(r *rand.Rand, s uuid.UUID) error {
	switch r.IntN(6) {
	case 0:
		list, err := c.sessions.Groups(c.Context(), c.by, s)
		if err != nil {
			return err
		}
		g := list[r.IntN(len(list))]
		_, _, err = c.sessions.ChangeGroup(c.Context(), c.by, g.ID, g.Version, func(f *sessions.GroupFields) {
			f.PlacesLowered = nil
			if r.IntN(2) == 0 {
				f.PlacesLowered = new(r.IntN(8))
			}
		}, nil)
		return err
	case 1:
		hour := 9 + r.IntN(6)
		day := 6 + r.IntN(2)
		if i := slices.Index(c.pool, s); i >= 0 {
			day = 2 + i
		}
		_, _, err := c.sessions.MoveSession(c.Context(), c.by, sessions.Rescheduling{SessionID: s, Times: sessions.Times{StartsLocal: fmt.Sprintf("2026-06-%02dT%02d:00", day, hour),
			EndsLocal: fmt.Sprintf("2026-06-%02dT%02d:00", day, hour+3)}}, nil)
		return err
	case 2:
		seen := units.Read(float64(r.IntN(20)), units.UnitMetre)
		_, _, err := c.sessions.ReportConditions(c.Context(), c.by, sessions.Report{Key: once.New(), SessionID: s, Visibility: &seen, WitnessedAt: time.Date(2026, 6, 1, 7, r.IntN(60), 0, 0, time.UTC)})
		return err
	case 3:
		row, err := c.sessions.Session(c.Context(), c.by, s)
		if err != nil {
			return err
		}
		_, _, err = c.sessions.ChangeSession(c.Context(), c.by, s, row.Version, func(f *sessions.SessionFields) {
			f.PlacesLowered = nil
			if r.IntN(2) == 0 {
				f.PlacesLowered = new(2 + r.IntN(6))
			}
		}, nil)
		return err
	case 4:
		return c.void(r)
	}
	_, _, err := c.desk.Withdraw(c.Context(), c.by, c.enrolments[20+r.IntN(6)], "changed plans", nil)
	return err
}

func (c *crowd) group(r *rand.Rand, s uuid.UUID) (uuid.UUID, error) {
	list, err := c.sessions.Groups(c.Context(), c.by, s)
	if err != nil {
		return uuid.Nil, err
	}
	return list[r.IntN(len(list))].ID, nil
}

func (c *crowd) part(r *rand.Rand, s uuid.UUID) (sessions.Participant, error) {
	list, err := c.sessions.Participants(c.Context(), c.by, s)
	if err != nil || len(list) == 0 {
		return sessions.Participant{}, fault.NoSuch("participant").Because(err)
	}
	return list[r.IntN(len(list))], nil
}

// regroup moves some participants anywhere, often two against each other.
func (c *crowd) regroup(r *rand.Rand, s uuid.UUID) error {
	a, err := c.part(r, s)
	if err != nil {
		return err
	}
	b, err := c.part(r, s)
	if err != nil {
		return err
	}
	moves := []sessions.Move{{ParticipantID: a.ID, GroupID: b.GroupID}}
	if a.ID != b.ID && r.IntN(2) == 0 {
		moves = append(moves, sessions.Move{ParticipantID: b.ID, GroupID: a.GroupID})
	}
	_, _, err = c.sessions.Regroup(c.Context(), c.by, s, moves, nil)
	return err
}

// unexpected is a student whom no plan expected, in the water all the same.
func (c *crowd) unexpected(r *rand.Rand, s uuid.UUID) error {
	g, err := c.group(r, s)
	if err != nil {
		return err
	}
	i := r.IntN(len(c.students))
	_, _, err = c.sessions.CallRoll(c.Context(), c.by, s, []sessions.NewRollCallEntry{{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: time.Date(2026, 6, 1, 7, 30, 0, 0, time.UTC),
		Unexpected: &sessions.Unexpected{PersonID: c.students[i], EnrolmentID: &c.enrolments[i], GroupID: &g, Role: sessions.Student}}})
	return err
}

// deadlocks counts what the server had to break up, those included that ended
// well for the caller because the transaction was begun anew.
func (c *crowd) deadlocks(t *testing.T) (n int) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), c.DB.SuperURL)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()`).Scan(&n))
	return n
}

// note counts how things were answered; an internal fault is a defect. On a machine
// that is busy with other tests a lock may last longer than anybody waits for it:
// that is answered with "send it again", and changes nothing.
func (c *crowd) note(t *testing.T, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err == nil {
		c.answered["done"]++
		return
	}
	var waited *pgconn.PgError
	if errors.As(err, &waited) && waited.Code == "55P03" {
		c.answered["waited too long"]++
		return
	}
	var f *fault.Fault
	if !errors.As(err, &f) || f.Kind == fault.Internal || f.Kind == fault.Unavailable {
		t.Errorf("a defect, a deadlock or a server that is away: %v", err)
		return
	}
	c.answered[f.Code]++
}

// groupRow is a group as its table has it.
type groupRow struct {
	ID             uuid.UUID
	SessionID      uuid.UUID
	PlacesLowered  *int
	SessionLowered *int
	Kind           ratio.Setting
	OnDay          time.Time
	Students       int
	Places         int
	Cleared        bool
	VisibilityM    *float64
}

// check recomputes every group from the rows alone.
func (c *crowd) check(t *testing.T) {
	t.Helper()
	require.Zero(t, c.Count(overSQL), "cleared and over its ratio, or counted wrong")
	require.Zero(t, c.Count(untoldSQL), "in a session that has been opened, and told no low-gas pressure")
	require.NoError(t, c.DB.InTx(t.Context(), c.Centre, func(ctx context.Context, tx *pg.Tx) error {
		own, err := pg.Row[*ratio.Book](ctx, tx, `SELECT own_book FROM centre`, pgx.StrictNamedArgs{})
		require.NoError(t, err)
		books, err := ratio.Applied(ratio.GeneralPractice(), own)
		require.NoError(t, err)
		groups, err := pg.Rows[groupRow](ctx, tx, `SELECT g.id, g.session_id, g.places_lowered, s.places_lowered AS session_lowered, s.kind, s.on_day, g.students, g.places, g.cleared,
			(s.visibility).value AS visibility_m FROM session_group g JOIN session s ON s.centre_id = g.centre_id AND s.id = g.session_id
			WHERE s.state IN ('planned', 'under_way')`, pgx.StrictNamedArgs{})
		require.NoError(t, err)
		for _, g := range groups {
			v := ratio.Judge(books, c.recount(ctx, t, tx, g))
			require.Equal(t, v.Places, g.Places)
			require.Equal(t, g.Cleared, g.Students <= v.Places, "a group of %d with %d places, cleared %v", g.Students, v.Places, g.Cleared)
		}
		return nil
	}))
	require.Zero(t, c.Count(`SELECT 1 FROM participant a JOIN participant b ON a.person_id = b.person_id AND a.id < b.id AND a.during && b.during WHERE a.booked AND b.booked`))
	require.Zero(t, c.Count(`SELECT 1 FROM participant p JOIN session s ON s.id = p.session_id JOIN enrolment e ON e.id = p.enrolment_id
		WHERE e.state = 'withdrawn' AND s.state = 'planned' AND p.booked AND NOT EXISTS (SELECT FROM entry x WHERE x.participant_id = p.id)`), "a place kept by who withdrew")
	require.Zero(t, c.Count(`SELECT 1 FROM participant p JOIN session s ON s.id = p.session_id WHERE s.state = 'cancelled' AND p.booked`), "booked on a session that was called off")
}

func (c *crowd) recount(ctx context.Context, t *testing.T, tx *pg.Tx, g groupRow) ratio.Group {
	t.Helper()
	type row struct {
		Role       string
		Attendance string
		BirthOn    time.Time
		Papers     []byte
	}
	rows, err := pg.Rows[row](ctx, tx, `SELECT p.role, p.attendance, n.birth_on, (SELECT COALESCE(jsonb_agg(jsonb_build_object('kind', x.kind, 'from', x.issued_on, 'to', x.valid_until)), '[]')
		FROM paper x WHERE x.centre_id = p.centre_id AND x.person_id = p.person_id
			AND NOT EXISTS (SELECT FROM paper_void v WHERE v.centre_id = x.centre_id AND v.paper_id = x.id)) AS papers
		FROM participant p JOIN person n ON n.centre_id = p.centre_id AND n.id = p.person_id WHERE p.group_id = @g`, pgx.StrictNamedArgs{"g": g.ID})
	require.NoError(t, err)
	out := ratio.Group{Setting: g.Kind, Level: ratio.EntryLevel, LoweredTo: g.PlacesLowered}
	if g.SessionLowered != nil && (out.LoweredTo == nil || *g.SessionLowered < *out.LoweredTo) {
		out.LoweredTo = g.SessionLowered
	}
	if g.VisibilityM != nil {
		out.Conditions.Visibility = new(units.Depth(*g.VisibilityM))
	}
	for _, r := range rows {
		switch {
		case r.Attendance == "absent" || r.Attendance == "sat_out" || r.Attendance == "left_early":
		case r.Role == "student":
			out.Ages = append(out.Ages, when.Age(r.BirthOn, g.OnDay))
		case r.Role == "in_charge":
			out.Instructor = true
		case r.Role == "instructor" || holdsBoth(t, r.Papers, g.OnDay):
			out.Assistants++
		default:
			out.Uncounted++
		}
	}
	require.Len(t, out.Ages, g.Students, "the count that the row carries is that of its students")
	return out
}

// holdsBoth tells whether an assistant is active and insured on a day.
func holdsBoth(t *testing.T, raw []byte, day time.Time) bool {
	t.Helper()
	var papers []struct{ Kind, From, To string }
	require.NoError(t, json.Unmarshal(raw, &papers))
	on, have := day.Format(time.DateOnly), map[string]bool{}
	for _, p := range papers {
		if p.From <= on && (p.To == "" || on <= p.To) {
			have[p.Kind] = true
		}
	}
	return have[string(roster.TeachingStatus)] && have[string(roster.Insurance)]
}

// Whatever many clients do at once, no group is cleared and over its ratio,
// nobody is booked twice at once, and nothing but refusals comes back.
func TestNoGroupIsClearedAndOverItsRatio(t *testing.T) {
	c := newCrowd(t)
	for round := range 2 {
		seed := rand.Uint64()
		t.Logf("round %d, seed %d", round, seed)
		var wg sync.WaitGroup
		for client := range 6 {
			wg.Go(func() {
				r := rand.New(rand.NewPCG(seed, uint64(client)))
				if round == 0 {
					c.note(t, c.first(client, r))
				}
				for range 30 {
					c.note(t, c.one(r))
				}
			})
		}
		wg.Wait()
		c.check(t)
		c.alone(t, rand.New(rand.NewPCG(seed, 8)))
	}
	t.Logf("answered: %v", c.answered)
	require.Greater(t, c.answered["done"], 100)
	require.Greater(t, c.answered["rules_refused"], 20)
	for _, what := range []string{"create_group", "open_session", "cancel_session", "void_paper", "record_paper", "rule_books"} {
		require.NotZero(t, c.answered[what], what)
	}
	report, err := ledger.Verify(t.Context(), c.DB.DB, c.Centre, app.Ledger())
	require.NoError(t, err)
	require.Empty(t, slices.DeleteFunc(report.Problems, func(p ledger.Problem) bool {
		return p.Code == ledger.RowAdded && p.EntryKind == ledger.Paper // papers are scenery, written as rows
	}))
	require.NotZero(t, report.Rows)
	t.Logf("deadlocks that the server broke up and nobody met: %d", c.deadlocks(t))
}

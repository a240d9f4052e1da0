package desk_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/centre"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/sessions"
)

// pools adds sessions in the pool: one that is under way, one that is opened
// meanwhile, and one that is called off. Everybody is briefed for them; every fifth
// student, one instructor and one assistant are told no low-gas pressure, and may not
// join in the water, nor be there at the opening.
func (c *crowd) pools(t *testing.T) {
	t.Helper()
	for i, state := range []string{"under_way", "planned", "planned"} {
		s := c.Session(c.course, "confined", fmt.Sprintf("2026-06-0%dT09:00:00Z", 2+i), state)
		for _, person := range slices.Concat(c.students, c.crew) {
			if c.untold(person) {
				c.BriefTelling(s, person, `[]`)
				continue
			}
			c.BriefPerson(s, person)
		}
		for k, name := range []string{"blue", "red"} {
			_, _, _, err := c.sessions.OpenGroup(t.Context(), c.by,
				sessions.NewGroup{Key: once.New(), SessionID: s, Name: name, InCharge: c.crew[k]}, nil)
			require.NoError(t, err)
		}
		c.pool = append(c.pool, s)
	}
}

// untold reports whether nobody tells a person any low-gas pressure.
func (c *crowd) untold(person uuid.UUID) bool {
	return slices.Index(c.students, person)%5 == 4 || person == c.crew[3] || person == c.crew[7]
}

// untoldSQL counts, by the rows alone, who takes part in a session with dives that has
// been opened and was told no low-gas pressure, by a briefing or a plan that was
// confirmed. Whom a roll call names is left out: that they are there is a fact.
const untoldSQL = `SELECT 1 FROM participant p
	JOIN session s ON s.centre_id = p.centre_id AND s.id = p.session_id
	WHERE s.state = 'under_way' AND p.attendance NOT IN ('absent', 'sat_out', 'left_early') AND NOT p.not_diving
		AND EXISTS (SELECT FROM dive d WHERE d.centre_id = p.centre_id AND d.session_id = p.session_id)
		AND NOT EXISTS (SELECT FROM roll_call r WHERE r.centre_id = p.centre_id AND r.participant_id = p.id)
		AND NOT EXISTS (SELECT FROM briefing b JOIN briefing_person x ON x.centre_id = b.centre_id
			AND x.briefing_id = b.id,
				jsonb_array_elements(x.figures) f
			WHERE b.centre_id = p.centre_id AND b.session_id = p.session_id AND x.person_id = p.person_id
				AND f->'low' <> 'null')
		AND NOT EXISTS (SELECT FROM gas_plan_confirmed c JOIN gas_plan_person x ON x.centre_id = c.centre_id
			AND x.plan_id = c.plan_id
			WHERE c.centre_id = p.centre_id AND c.session_id = p.session_id AND x.participant_id = p.id)`

// first is what each client does first, so that each of these is done once at
// least, whatever the dice say.
func (c *crowd) first(client int, r *rand.Rand) error {
	switch client {
	case 0:
		return c.openSession(c.pool[1])
	case 1:
		return c.cancel(c.pool[2])
	case 2:
		return c.openGroup(c.pool[0], "green", c.crew[2])
	case 3:
		return c.books(r)
	case 4:
		return c.lapse(r)
	case 5:
		return c.insure(r)
	}
	return c.one(r)
}

// further is what the session under way, papers and rule books bring about.
func (c *crowd) further(r *rand.Rand, s uuid.UUID) error {
	switch r.IntN(9) {
	case 0, 1:
		return c.openGroup(s, []string{"green", "white"}[r.IntN(2)], c.crew[r.IntN(5)])
	case 2:
		return c.openSession(s)
	case 3:
		return c.cancel(c.pool[2])
	case 4, 5:
		return c.lapse(r)
	case 6, 7:
		return c.insure(r)
	}
	return c.books(r)
}

// alone does one thing after the other and looks at the groups after each, which
// nothing later puts right by chance: assistants lose the papers by which they
// count one by one and get them back, and the centre changes its books.
func (c *crowd) alone(t *testing.T, r *rand.Rand) {
	t.Helper()
	do := func(err error) {
		t.Helper()
		c.note(t, err)
		c.check(t)
	}
	for ids, err := c.papers(); len(ids) > 0 && err == nil; ids, err = c.papers() {
		do(c.lapse(r))
	}
	for i := range 4 {
		for _, kind := range []string{"insurance", "teaching_status"} {
			do(c.record(c.crew[4+i], kind, 30))
		}
	}
	do(c.books(r))
	do(c.birthDate(r))
	do(c.void(r))
}

func (c *crowd) openGroup(s uuid.UUID, name string, who uuid.UUID) error {
	_, _, _, err := c.sessions.OpenGroup(c.Context(), c.by,
		sessions.NewGroup{Key: once.New(), SessionID: s, Name: name, InCharge: who}, nil)
	return c.did("create_group", err)
}

func (c *crowd) openSession(s uuid.UUID) error {
	_, _, err := c.sessions.OpenSession(c.Context(), c.by, s, nil, nil)
	return c.did("open_session", err)
}

func (c *crowd) cancel(s uuid.UUID) error {
	_, err := c.sessions.CancelSession(c.Context(), c.by, s, "the pool is closed", nil)
	return c.did("cancel_session", err)
}

// papers gives the papers by which assistants count.
func (c *crowd) papers() (ids []uuid.UUID, err error) {
	err = c.DB.InTx(c.Context(), c.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		ids, err = pg.Rows[uuid.UUID](ctx, tx,
			`SELECT p.id FROM paper p WHERE p.person_id = ANY (@assistants) AND p.kind IN ('insurance', 'teaching_status')
			AND NOT EXISTS (SELECT FROM paper_void v WHERE v.centre_id = p.centre_id AND v.paper_id = p.id) ORDER BY p.id`, pgx.StrictNamedArgs{"assistants": c.crew[4:]})
		return err
	})
	return ids, err
}

// lapse voids one of them.
func (c *crowd) lapse(r *rand.Rand) error {
	ids, err := c.papers()
	if err != nil || len(ids) == 0 {
		return fault.NoSuch("paper").Because(err)
	}
	_, err = c.desk.VoidPaper(c.Context(), c.by, ids[r.IntN(len(ids))], "somebody else's")
	return c.did("void_paper", err)
}

// insure records such a paper, often for some of the sessions only.
func (c *crowd) insure(r *rand.Rand) error {
	return c.record(c.crew[4+r.IntN(4)], []string{"insurance", "teaching_status"}[r.IntN(2)],
		[]int{1, 2, 6, 30}[r.IntN(4)])
}

func (c *crowd) record(who uuid.UUID, kind string, until int) error {
	_, _, err := c.desk.RecordPaper(c.Context(), c.by,
		people.NewPaper{Key: once.New(), PersonID: who, Kind: kind, Outcome: "valid",
			IssuedOn: time.Date(2026, 1, 1, 0, 0, 0, 0,
				time.UTC), ValidUntil: new(time.Date(2026, 6, until, 0, 0, 0, 0, time.UTC))})
	return c.did("record_paper", err)
}

// books has the centre set a limit of its own, or take it back.
func (c *crowd) books(r *rand.Rand) error {
	present, err := centre.New(c.DB.DB).Centre(c.Context(), c.by)
	if err != nil {
		return err
	}
	_, _, err = c.desk.ChangeCentre(c.Context(), c.by, present.Version, func(f *centre.Settings) {
		if f.OwnBook != nil && r.IntN(2) == 0 {
			f.OwnBook = nil
			return
		}
		n := 3 + r.IntN(6)
		f.OwnBook = &ratio.Book{Title: "The house", Source: "the house",
			Lines: []ratio.Line{{Title: "everybody", Settings: []ratio.Setting{ratio.Confined, ratio.Open},
				Levels: []ratio.Level{ratio.EntryLevel}, OnlyLimits: true, Places: []int{n, n + 1, n + 2}}}}
	})
	return c.did("rule_books", err)
}

// void takes back a roll call or a report of conditions.
func (c *crowd) void(r *rand.Rand) error {
	var id uuid.UUID
	err := c.DB.InTx(c.Context(), c.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		all, err := pg.Rows[uuid.UUID](ctx, tx, `SELECT id FROM journal_entry WHERE voided_at IS NULL`,
			pgx.StrictNamedArgs{})
		if err == nil && len(all) > 0 {
			id = all[r.IntN(len(all))]
		}
		return err
	})
	if err != nil {
		return err
	}
	_, err = c.desk.VoidEntry(c.Context(), c.by, id, "of somebody else")
	return err
}

func (c *crowd) birthDate(r *rand.Rand) error {
	id := c.students[r.IntN(len(c.students))]
	p, err := c.people.Person(c.Context(), c.by, id)
	if err != nil {
		return err
	}
	year := []int{1990, 2012, 2015}[r.IntN(3)]
	_, _, err = c.desk.ChangePerson(c.Context(), c.by, id, p.Version,
		func(f *people.PersonFields) {
			f.BirthOn = time.Date(year, 3, 3, 0, 0, 0, 0,
				time.UTC)
		}, "passport seen")
	return err
}

// did counts what of the further things was done.
func (c *crowd) did(what string, err error) error {
	if err == nil {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.answered[what]++
	}
	return err
}

// overSQL counts, by the rows alone and without a line of the service's code, the
// groups of sessions that are not over that are cleared and should not be. General
// practice, by the manuals (seen): 8 students to an instructor, 10 with one
// assistant and 12 with two; with anyone under 15 4, 6 and 8; of those under 12 two
// for each of the crew, and then nobody else under 15. An assistant counts who is
// active and insured on the day. The centre's own figure, one more for each of two
// assistants, counts where it is lower.
const overSQL = `
	WITH here AS (
		SELECT g.id, g.cleared, g.students, LEAST(g.places_lowered, s.places_lowered) AS lowered,
			(c.own_book #>> '{Lines,0,Places,0}')::int AS own, p.role,
			extract(year FROM age(s.on_day, n.birth_on)) AS years,
			p.role = 'instructor' OR p.role = 'assistant' AND 2 = (SELECT count(DISTINCT x.kind) FROM paper x
				WHERE x.centre_id = p.centre_id AND x.person_id = p.person_id
					AND x.kind IN ('teaching_status', 'insurance')
					AND x.issued_on <= s.on_day AND (x.valid_until IS NULL OR x.valid_until >= s.on_day)
					AND NOT EXISTS (SELECT FROM paper_void v WHERE v.centre_id = x.centre_id
						AND v.paper_id = x.id)) AS counts
		FROM session_group g
		JOIN session s ON s.centre_id = g.centre_id AND s.id = g.session_id AND s.state IN ('planned', 'under_way')
		JOIN centre c ON c.centre_id = g.centre_id
		LEFT JOIN participant p ON p.centre_id = g.centre_id AND p.group_id = g.id
			AND p.attendance NOT IN ('absent', 'sat_out', 'left_early')
		LEFT JOIN person n ON n.centre_id = p.centre_id AND n.id = p.person_id),
	counted AS (
		SELECT id, cleared, students, lowered, own, count(*) FILTER (WHERE role = 'student') AS n,
			count(*) FILTER (WHERE role = 'in_charge') AS instructors,
			count(*) FILTER (WHERE counts) AS helpers, count(*) FILTER (WHERE role = 'student' AND years < 12) AS young,
			count(*) FILTER (WHERE role = 'student' AND years BETWEEN 12 AND 14) AS minors
		FROM here GROUP BY id, cleared, students, lowered, own)
	SELECT id FROM counted WHERE students <> n OR cleared AND n > 0 AND (instructors = 0
		OR n > LEAST(CASE WHEN young + minors > 0 THEN 4 ELSE 8 END + 2 * LEAST(helpers, 2), own + LEAST(helpers, 2), lowered)
		OR young > 2 * (1 + helpers) OR young > 0 AND minors > 0)`

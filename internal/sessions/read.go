package sessions

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/when"
)

// lockSessions locks the sessions of those ids, in their order, for the rest of
// the transaction.
func lockSessions(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, `SELECT id FROM session WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`, ids)
}

// lockGroupsOf locks all groups of the sessions.
func lockGroupsOf(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) error {
	return lock(ctx, tx, `SELECT id FROM session_group WHERE centre_id = app_centre() AND session_id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`, sessions)
}

// lockPeople locks people, so that nobody else books them meanwhile.
func lockPeople(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, `SELECT id FROM people_lock WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`, ids)
}

// lockEnrolments locks enrolments, so that none ends while a place is given by
// it. It comes after lockPeople.
func lockEnrolments(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, `SELECT id FROM courses_enrolment WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`, ids)
}

func lock(ctx context.Context, tx *pg.Tx, sql string, ids []uuid.UUID) error {
	_, err := tx.Exec(ctx, sql, pgx.StrictNamedArgs{"ids": ids})
	return err
}

// hold locks a session with its groups and reads it.
func hold(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Session, error) {
	if err := lockSessions(ctx, tx, id); err != nil {
		return Session{}, err
	}
	if err := lockGroupsOf(ctx, tx, id); err != nil {
		return Session{}, err
	}
	return findSession(ctx, tx, id)
}

func findSession(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Session, error) {
	s, found, err := pg.Maybe[Session](ctx, tx, `SELECT `+sessionColumns+` FROM session s WHERE s.centre_id = app_centre() AND s.id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("session")
	}
	return s, err
}

func findGroup(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Group, error) {
	g, found, err := pg.Maybe[Group](ctx, tx, `SELECT `+groupColumns+` FROM session_group g WHERE g.centre_id = app_centre() AND g.id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("group")
	}
	return g, err
}

func groupsOf(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) ([]Group, error) {
	return pg.Many[Group](ctx, tx, groupsSQL, pgx.StrictNamedArgs{"ids": sessions})
}

// The readings of several sessions at once, @ids.
const (
	groupsSQL = `SELECT ` + groupColumns + ` FROM session_group g
		WHERE g.centre_id = app_centre() AND g.session_id = ANY (@ids) ORDER BY g.session_id, g.created_at, g.id`
	participantsSQL = `SELECT ` + participantColumns + participantFrom + `
		WHERE p.centre_id = app_centre() AND p.session_id = ANY (@ids)
		ORDER BY p.session_id, p.role <> 'in_charge', p.role = 'student', n.name, p.id`
)

func findParticipant(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Participant, error) {
	p, found, err := pg.Maybe[Participant](ctx, tx, `SELECT `+participantColumns+participantFrom+`
		WHERE p.centre_id = app_centre() AND p.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("participant")
	}
	return p, err
}

func participantsOf(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) ([]Participant, error) {
	return pg.Many[Participant](ctx, tx, participantsSQL, pgx.StrictNamedArgs{"ids": sessions})
}

// centre is what the rules ask about a centre.
type centre struct {
	TimeZone      string
	GaugeUnit     string
	AgeOfMajority int
	RuleBooks     []string
	OwnBook       *ratio.Book // nil for none
	CrewPapers    []roster.Kind
	StudentPapers []roster.Kind
	MedicalMonths int
}

const centreSQL = `SELECT time_zone, gauge_unit, age_of_majority, rule_books, own_book, crew_papers, student_papers, medical_months
	FROM people_centre WHERE centre_id = app_centre()`

func readCentre(ctx context.Context, tx *pg.Tx) (centre, error) {
	c, err := pg.One[centre](ctx, tx, centreSQL, pgx.StrictNamedArgs{})
	if err != nil {
		return c, fmt.Errorf("read centre: %w", err)
	}
	return c, nil
}

// demands gives what the centre asks of people on a day.
func (c centre) demands(day time.Time) roster.Demands {
	return roster.Demands{CrewPapers: c.CrewPapers, StudentPapers: c.StudentPapers, Majority: c.AgeOfMajority,
		MedicalSince: roster.Day(day.AddDate(0, -c.MedicalMonths, 0).Format(time.DateOnly))}
}

// person is somebody as the rules ask, on one day.
type person struct {
	roster.Person
	Roles     []string
	GaugeUnit string
}

func (p person) is(role string) bool { return slices.Contains(p.Roles, role) }

// personRow is somebody as read, with papers and fitness as on a day.
type personRow struct {
	ID        uuid.UUID
	Name      string
	BirthOn   time.Time
	GaugeUnit string
	Roles     []string
	Unfit     bool
	Papers    []struct {
		ID         string  `json:"id"`
		Kind       string  `json:"kind"`
		Outcome    string  `json:"outcome"`
		IssuedOn   string  `json:"issued_on"`
		ValidUntil *string `json:"valid_until"`
	}
}

// peopleSQL reads people as on @day; which ones, is to follow.
const peopleSQL = `SELECT n.id, n.name, n.birth_on, n.gauge_unit, n.roles,
			EXISTS (SELECT FROM people_unfit u WHERE u.centre_id = n.centre_id AND u.person_id = n.id AND u.on_day = @day) AS unfit,
			COALESCE((SELECT jsonb_agg(jsonb_build_object('id', p.id, 'kind', p.kind, 'outcome', p.outcome, 'issued_on', p.issued_on, 'valid_until', p.valid_until))
				FROM people_paper p WHERE p.centre_id = n.centre_id AND p.person_id = n.id), '[]') AS papers
		FROM people_person n WHERE n.centre_id = app_centre() AND n.id `

// peopleOn reads people with their papers and fitness, as on a day.
func peopleOn(ctx context.Context, tx *pg.Tx, ids []uuid.UUID, day time.Time) (map[uuid.UUID]person, error) {
	rows, err := pg.Many[personRow](ctx, tx, peopleSQL+`= ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids, "day": day})
	return byID(rows, day), err
}

func byID(rows []personRow, day time.Time) map[uuid.UUID]person {
	out := make(map[uuid.UUID]person, len(rows))
	for _, r := range rows {
		p := person{Roles: r.Roles, GaugeUnit: r.GaugeUnit,
			Person: roster.Person{ID: r.ID.String(), Name: r.Name, Age: when.Age(r.BirthOn, day), Unfit: r.Unfit}}
		for _, x := range r.Papers {
			paper := roster.Paper{ID: x.ID, Kind: roster.Kind(x.Kind), Outcome: x.Outcome, IssuedOn: roster.Day(x.IssuedOn)}
			if x.ValidUntil != nil {
				paper.ValidUntil = roster.Day(*x.ValidUntil)
			}
			p.Papers = append(p.Papers, paper)
		}
		out[r.ID] = p
	}
	return out
}

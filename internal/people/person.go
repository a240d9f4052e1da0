package people

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// Person is a person of the centre.
type Person struct {
	ID    uuid.UUID
	Roles []actor.Role
	PersonFields
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// PersonFields are the members of a person that may be edited.
type PersonFields struct {
	Name              string
	BirthOn           time.Time
	GaugeUnit         string // the unit of the person's own gauge: bar or psi
	Email             *string
	Phone             *string
	EmergencyName     *string // the emergency contact
	EmergencyPhone    *string
	EmergencyRelation *string
	ExternalRefs      map[string]string // ids in other programs
}

// NewPerson asks for a person with roles.
type NewPerson struct {
	once.Key
	PersonFields
	Roles []actor.Role
}

const personColumns = `p.id, ARRAY(SELECT r.role
	FROM person_role r WHERE r.centre_id = p.centre_id AND r.person_id = p.id ORDER BY r.role) AS roles,
	p.name, p.birth_on, p.gauge_unit, p.email, p.phone, p.emergency_name, p.emergency_phone,
	p.emergency_relation, p.external_refs,
	p.version, p.created_at, p.updated_at`

// AddPerson adds a person, for managers, instructors and programs; only a manager
// gives roles other than student. The gauge unit defaults to the centre's.
func (s *Service) AddPerson(ctx context.Context, by actor.Actor, n NewPerson) (out Person, created bool,
	err error) {
	if err := checkRoles(by, n.Roles); err != nil {
		return out, false, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := n.check(tx.Now, ""); err != nil {
			return err
		}
		if n.GaugeUnit == "" {
			centre, err := readLocal(ctx, tx)
			if err != nil {
				return err
			}
			n.GaugeUnit = centre.GaugeUnit
		}
		digest, again, err := pg.OptionalRow[[]byte](ctx, tx, `SELECT body_digest
			FROM person WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
		switch {
		case err != nil:
			return err
		case again:
			err = n.Replays(digest)
		default:
			err = insertPerson(ctx, tx, n)
		}
		if err != nil {
			return err
		}
		created = !again
		out, err = findPerson(ctx, tx, n.ID)
		return err
	})
	return out, created, err
}

// checkRoles returns the fault missing_role where the caller would give a new person a role that is
// not theirs to give.
func checkRoles(by actor.Actor, roles []actor.Role) error {
	for _, r := range roles {
		if r != actor.Student && permission.Of("giveRole", by) < permission.All {
			return fault.MissingRole("a manager: roles other than student are given by managers")
		}
	}
	return nil
}

// oldest is the highest age that is accepted, in years, our choice: it finds a
// mistyped century at once.
const oldest = 120

// check returns a fault for fields that the contract's schema cannot reject. at is
// the JSON pointer of the fields.
func (f PersonFields) check(now time.Time, at string) error {
	if f.BirthOn.After(now) || f.BirthOn.Before(now.AddDate(-oldest, 0, 0)) {
		return fault.Invalid(at+"/birth_on",
			"{birth_on} is no birth date of a living person: want a day in the past, at most {years} years ago.",
			f.BirthOn.Format(time.DateOnly), oldest)
	}
	return nil
}

func (f PersonFields) args() pgx.StrictNamedArgs {
	refs := f.ExternalRefs
	if refs == nil {
		refs = map[string]string{}
	}
	return pgx.StrictNamedArgs{"name": f.Name, "birth": f.BirthOn, "gauge": f.GaugeUnit, "email": f.Email,
		"phone":          f.Phone,
		"emergency_name": f.EmergencyName, "emergency_phone": f.EmergencyPhone,
		"emergency_relation": f.EmergencyRelation, "refs": refs}
}

// insertPerson adds a person with their roles.
func insertPerson(ctx context.Context, tx *pg.Tx, n NewPerson) error {
	args := n.args()
	args["id"], args["digest"], args["now"] = n.ID, n.Digest, tx.Now
	if _, err := tx.Do(ctx, `INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, email, phone,
		emergency_name, emergency_phone, emergency_relation,
			external_refs, body_digest, created_at, updated_at)
		VALUES (app_centre(), @id, @name, @birth, @gauge, @email, @phone, @emergency_name, @emergency_phone,
			@emergency_relation, @refs, @digest, @now, @now)`, args); err != nil {
		return err
	}
	_, err := tx.Do(ctx, `INSERT INTO person_role (centre_id, person_id, role)
		SELECT DISTINCT app_centre(), @id::uuid, r FROM unnest(@roles::text[]) r`,
		pgx.StrictNamedArgs{"id": n.ID, "roles": n.Roles})
	return err
}

// AddFirstManager adds the first manager of a new centre, whom nobody there could add,
// in the caller's transaction, and returns their id.
func AddFirstManager(ctx context.Context, tx *pg.Tx, name string, bornOn time.Time, gauge string) (uuid.UUID,
	error) {
	n := NewPerson{Key: once.New(), Roles: []actor.Role{actor.Manager},
		PersonFields: PersonFields{Name: name, BirthOn: bornOn, GaugeUnit: gauge}}
	if err := insertPerson(ctx, tx, n); err != nil {
		return uuid.Nil, fmt.Errorf("add first manager: %w", err)
	}
	return n.ID, nil
}

func findPerson(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Person, error) {
	p, found, err := pg.OptionalRow[Person](ctx, tx, `SELECT `+personColumns+
		` FROM person p WHERE p.centre_id = app_centre() AND p.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("person")
	}
	return p, err
}

// lockPerson locks a person and reads the given version; nil is any.
func lockPerson(ctx context.Context, tx *pg.Tx, id uuid.UUID, version *int64) (Person, error) {
	if _, err := tx.Do(ctx, `SELECT id
		FROM person
		WHERE centre_id = app_centre() AND id = @id
		FOR NO KEY UPDATE`, pgx.StrictNamedArgs{"id": id}); err != nil {
		return Person{}, err
	}
	p, err := findPerson(ctx, tx, id)
	if err == nil && version != nil && p.Version != *version {
		err = fault.Changed(p.Version)
	}
	return p, err
}

// PersonFilter narrows a list of people.
type PersonFilter struct {
	Roles []string
	Name  *string      // a part of the name, in any case
	Since *pg.Position // changed after that position
}

// People returns people by name. A student sees only themselves. horizon is the
// Since that continues this reading.
func (s *Service) People(ctx context.Context, by actor.Actor, f PersonFilter,
	p page.Request) (out []Person, next *page.Place, horizon pg.Position, err error) {
	args := pgx.StrictNamedArgs{"roles": f.Roles, "part": f.Name,
		"all":  permission.Of("listPeople", by) == permission.All,
		"self": by.Person}
	from, order, err := p.SQL(page.Column{Name: "name", Type: "text"}, args)
	if err != nil {
		return nil, nil, horizon, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if horizon, err = pg.Resume(ctx, tx, f.Since, args); err != nil {
			return err
		}
		rows, err := pg.Rows[Person](ctx, tx, `SELECT `+personColumns+
			` FROM person p WHERE p.centre_id = app_centre()
			AND (@all OR p.id = @self) AND (@since::bigint IS NULL OR p.touched >= @since
				AND p.touched < @until)
			AND (@part::text IS NULL OR strpos(lower(p.name), lower(@part)) > 0)
			AND (@roles::text[] IS NULL OR EXISTS (SELECT FROM person_role r
			WHERE r.centre_id = p.centre_id AND r.person_id = p.id AND r.role = ANY (@roles)))
			AND `+from+` `+order, args)
		out, next = page.Cut(p, rows, func(p Person) page.Place { return page.Place{Key: p.Name, ID: p.ID} })
		return err
	})
	return out, next, horizon, err
}

// PeopleNamed returns the people with these ids; a student sees only themselves.
func (s *Service) PeopleNamed(ctx context.Context, by actor.Actor, ids []uuid.UUID) (out []Person, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = pg.Rows[Person](ctx, tx, `SELECT `+personColumns+
			` FROM person p WHERE p.centre_id = app_centre()
			AND p.id = ANY (@ids)
				AND (@all
					OR p.id = @self)`, pgx.StrictNamedArgs{"ids": ids, "all": permission.Of("listPeople", by) == permission.All,
			"self": by.Person})
		return err
	})
	return out, err
}

// Person returns one person.
func (s *Service) Person(ctx context.Context, by actor.Actor, id uuid.UUID) (out Person, err error) {
	if !permission.Covers("getPerson", by, id) {
		return out, fault.NoSuch("person")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findPerson(ctx, tx, id)
		return err
	})
	return out, err
}

// ChangePerson edits the given version of a person in the caller's transaction. It
// reports whether the birth date changed: package desk then judges again what
// depends on it. Another name or birth date is a correction: a manager or an
// instructor makes it with a reason, and the old value is kept.
func (s *Service) ChangePerson(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID, version int64,
	edit func(*PersonFields), reason string) (out Person, aged bool, err error) {
	p, err := lockPerson(ctx, tx, id, &version)
	if err != nil {
		return out, false, err
	}
	before := p.PersonFields
	edit(&p.PersonFields)
	if err := p.check(tx.Now, ""); err != nil {
		return out, false, err
	}
	corrected := corrections(before, p.PersonFields)
	if err := checkCorrections(by, id, corrected, reason); err != nil {
		return out, false, err
	}
	args := p.args()
	args["id"], args["now"] = id, tx.Now
	if _, err := tx.Do(ctx, `UPDATE person
		SET name = @name, birth_on = @birth, gauge_unit = @gauge, email = @email, phone = @phone,
			emergency_name = @emergency_name, emergency_phone = @emergency_phone,
			emergency_relation = @emergency_relation, external_refs = @refs,
			version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id`, args); err != nil {
		return out, false, err
	}
	if err := keepCorrections(ctx, by, tx, id, corrected, reason); err != nil {
		return out, false, err
	}
	out, err = findPerson(ctx, tx, id)
	return out, !before.BirthOn.Equal(p.BirthOn), err
}

// GiveRole adds a role to a person, for managers. Adding it again changes nothing.
func (s *Service) GiveRole(ctx context.Context, by actor.Actor, id uuid.UUID, role actor.Role) (Person, error) {
	return s.changeRole(ctx, by, id, `INSERT INTO person_role (centre_id, person_id, role)
		VALUES (app_centre(), @id, @role) ON CONFLICT (centre_id, person_id, role) DO NOTHING`, role)
}

// TakeRole takes a role away from a person, for managers. Taking it again changes
// nothing. The last manager keeps the role.
func (s *Service) TakeRole(ctx context.Context, by actor.Actor, id uuid.UUID, role actor.Role) (Person, error) {
	return s.changeRole(ctx, by, id, `DELETE FROM person_role
		WHERE centre_id = app_centre() AND person_id = @id AND role = @role`, role)
}

func (s *Service) changeRole(ctx context.Context, by actor.Actor, id uuid.UUID, sql string,
	role actor.Role) (out Person, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		// The centre is locked, so that two managers cannot take the role from each other.
		if err := lockCentre(ctx, tx); err != nil {
			return err
		}
		if _, err := lockPerson(ctx, tx, id, nil); err != nil {
			return err
		}
		n, err := tx.Do(ctx, sql, pgx.StrictNamedArgs{"id": id, "role": role})
		if err != nil {
			return err
		}
		if n > 0 {
			if _, err := tx.Do(ctx, `UPDATE person
				SET version = version + 1, updated_at = @now WHERE centre_id = app_centre() AND id = @id`,
				pgx.StrictNamedArgs{"id": id, "now": tx.Now}); err != nil {
				return err
			}
		}
		managers, err := pg.Row[int](ctx, tx, `SELECT count(*)
			FROM person_role WHERE centre_id = app_centre() AND role = 'manager'`, pgx.StrictNamedArgs{})
		if err == nil && managers == 0 {
			err = fault.WrongState("person", "the last manager", "Give another person the role first.")
		}
		if err != nil {
			return err
		}
		out, err = findPerson(ctx, tx, id)
		return err
	})
	return out, err
}

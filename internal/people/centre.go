package people

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/when"
)

// Centre is the dive centre. Every record belongs to one centre.
type Centre struct {
	ID uuid.UUID `db:"centre_id"`
	CentreSettings
	Demo      bool
	Now       time.Time `db:"-"` // the centre's time; the clock of a demo centre is settable
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// CentreSettings are what a manager may change.
type CentreSettings struct {
	Name          string
	TimeZone      string   // IANA name
	GaugeUnit     string   // bar or psi: the default for people and gauges without a unit of their own
	AgeOfMajority int      // years; below it a person is a minor
	RuleBooks     []string // ids of ratio's books that apply here, beside OwnBook
	// OwnBook has the centre's own limits, nil for none. The service sets its ID, Kind, Status and Version.
	OwnBook    *ratio.Book
	CrewPapers []string // kinds of paper that crew must hold on the day
	// StudentPapers are the kinds that a student must hold to get into the water,
	// beside a medical and consent.
	StudentPapers []string
	MedicalMonths int // the longest validity of a medical
}

const centreColumns = `centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, own_book,
	crew_papers, student_papers, medical_months,
	demo, version, created_at, updated_at`

// Centre returns the caller's centre.
func (s *Service) Centre(ctx context.Context) (centre Centre, err error) {
	err = s.db.InTx(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		centre, err = readCentre(ctx, tx, "")
		return err
	})
	return centre, err
}

// readCentre reads the centre of the transaction; lock is "" or a locking clause.
func readCentre(ctx context.Context, tx *pg.Tx, lock string) (Centre, error) {
	centre, err := pg.Row[Centre](ctx, tx, `SELECT `+centreColumns+
		` FROM centre WHERE centre_id = @centre `+lock,
		pgx.StrictNamedArgs{"centre": tx.Centre})
	if err != nil {
		return Centre{}, fmt.Errorf("read centre: %w", err)
	}
	centre.Now = tx.Now
	return centre, nil
}

// ChangeCentre edits the given version of the settings, for managers. Earlier
// decisions keep what they were judged on. It runs in the caller's transaction and
// reports whether the limits changed by which groups are judged: package desk
// judges groups again then. Faults: Stale for an outdated version, Malformed for an
// unknown time zone or an invalid book, Refused for a book that does not exist.
func (s *Service) ChangeCentre(ctx context.Context, tx *pg.Tx, version int64,
	edit func(*CentreSettings)) (centre Centre, limits bool, err error) {
	if err := actor.From(ctx).RequireRole("a manager", actor.Manager); err != nil {
		return Centre{}, false, err
	}
	present, err := readCentre(ctx, tx, "FOR NO KEY UPDATE")
	if err != nil {
		return Centre{}, false, err
	}
	if present.Version != version {
		return Centre{}, false, fault.Changed(present.Version)
	}
	before := present.CentreSettings
	edit(&present.CentreSettings)
	if present.OwnBook != before.OwnBook {
		present.OwnBook = ownBookOf(present.OwnBook, present.Version+1)
	}
	if err := present.check(); err != nil {
		return Centre{}, false, err
	}
	args := present.args()
	args["centre"], args["now"] = tx.Centre, tx.Now
	centre, err = pg.Row[Centre](ctx, tx, `
		UPDATE centre
		SET name = @name, time_zone = @zone, gauge_unit = @gauge, age_of_majority = @age, rule_books = @books,
			own_book = @own, crew_papers = @crew, student_papers = @student, medical_months = @months,
			version = version + 1, updated_at = @now
		WHERE centre_id = @centre RETURNING `+centreColumns, args)
	centre.Now = tx.Now
	return centre, present.OwnBook != before.OwnBook || !slices.Equal(present.RuleBooks, before.RuleBooks),
		err
}

// SetClock sets the clock of a demo centre to the given time, for managers. Fault:
// Conflict in a real centre.
func (s *Service) SetClock(ctx context.Context, now time.Time) (centre Centre, err error) {
	who := actor.From(ctx)
	if err := who.RequireRole("a manager", actor.Manager); err != nil {
		return Centre{}, err
	}
	err = s.db.InTx(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		present, err := readCentre(ctx, tx, "FOR NO KEY UPDATE")
		if err != nil {
			return err
		}
		if !present.Demo {
			return notADemo()
		}
		_, err = tx.Do(ctx, `UPDATE centre
			SET clock_offset = @now - clock_timestamp() WHERE centre_id = @centre`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "now": now})
		centre, centre.Now = present, now
		return err
	})
	return centre, err
}

// NewCentre asks for a centre and its first manager.
type NewCentre struct {
	CentreSettings
	Demo           bool
	Manager        string // the manager's name
	ManagerBirthOn time.Time
}

// CreateCentre creates a centre with its first manager and a token for them, which
// has every scope that a manager may have. The centre asks for the usual papers,
// whatever the settings contain. It is for the operator, who has no token yet; the
// API does not offer it.
func (s *Service) CreateCentre(ctx context.Context, n NewCentre) (centre Centre, first Issued, err error) {
	if err := when.CheckZone(n.TimeZone, "/time_zone"); err != nil {
		return Centre{}, Issued{}, err
	}
	id, manager := uuid.Must(uuid.NewV7()), once.New()
	err = s.db.InTx(ctx, id, func(ctx context.Context, tx *pg.Tx) error {
		if centre, err = insertCentre(ctx, tx, n); err != nil {
			return err
		}
		if err := insertManager(ctx, tx, n, manager); err != nil {
			return err
		}
		now, err := pg.Row[time.Time](ctx, tx, "SELECT clock_timestamp()", nil)
		if err != nil {
			return err
		}
		first, _, err = insertToken(ctx, tx,
			NewToken{Key: once.New(), PersonID: &manager.ID, Label: "first manager",
				Scopes: MostScopes([]actor.Role{actor.Manager}), ExpiresAt: new(now.Add(defaultLife))},
			now, actor.Actor{})
		return err
	})
	return centre, first, err
}

func insertCentre(ctx context.Context, tx *pg.Tx, n NewCentre) (Centre, error) {
	centre, err := pg.Row[Centre](ctx, tx, `
		INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, crew_papers,
		student_papers,
			medical_months, demo, created_at, updated_at)
		VALUES (@centre, @name, @zone, @gauge, @age, @books, '{teaching_status,first_aid}', '{waiver}', 12,
			@demo, @now, @now)
		RETURNING `+centreColumns,
		pgx.StrictNamedArgs{"centre": tx.Centre, "name": n.Name, "zone": n.TimeZone, "gauge": n.GaugeUnit,
			"age": n.AgeOfMajority, "books": n.RuleBooks, "demo": n.Demo, "now": tx.Now})
	if err != nil {
		return Centre{}, fmt.Errorf("create centre: %w", err)
	}
	centre.Now = tx.Now
	return centre, nil
}

func insertManager(ctx context.Context, tx *pg.Tx, n NewCentre, key once.Key) error {
	_, err := tx.Do(ctx, `
		INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at, updated_at)
		VALUES (@centre, @id, @name, @birth, @gauge, @digest, @now, @now)`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": key.ID, "name": n.Manager, "birth": n.ManagerBirthOn,
			"gauge": n.GaugeUnit, "digest": key.Digest, "now": tx.Now})
	if err == nil {
		_, err = tx.Do(ctx, `INSERT INTO person_role (centre_id, person_id, role)
			VALUES (@centre, @id, 'manager')`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "id": key.ID})
	}
	if err != nil {
		return fmt.Errorf("create first manager: %w", err)
	}
	return nil
}

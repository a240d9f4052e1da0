package centre

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/when"
)

// Centre is the dive centre. Every record belongs to one centre.
type Centre struct {
	ID uuid.UUID `db:"centre_id"`
	Settings
	Demo      bool
	Now       time.Time `db:"-"` // the centre's time; the clock of a demo centre is settable
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// Settings are what a manager may change.
type Settings struct {
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
func (s *Service) Centre(ctx context.Context, by actor.Actor) (centre Centre, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
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
	edit func(*Settings)) (centre Centre, limits bool, err error) {
	present, err := readCentre(ctx, tx, "FOR NO KEY UPDATE")
	if err != nil {
		return Centre{}, false, err
	}
	if present.Version != version {
		return Centre{}, false, fault.Changed(present.Version)
	}
	before := present.Settings
	edit(&present.Settings)
	newBook := present.OwnBook != before.OwnBook
	if newBook {
		present.OwnBook = ownBookOf(present.OwnBook, present.Version+1)
	}
	if err := present.check(); err != nil {
		return Centre{}, false, err
	}
	if newBook && present.OwnBook != nil {
		if err := keepEdition(ctx, tx, *present.OwnBook); err != nil {
			return Centre{}, false, err
		}
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
	return centre, newBook || !slices.Equal(present.RuleBooks, before.RuleBooks),
		err
}

// SetClock sets the clock of a demo centre to the given time, for managers. Fault:
// Conflict in a real centre.
func (s *Service) SetClock(ctx context.Context, by actor.Actor, now time.Time) (centre Centre, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
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

// Create creates the centre of the transaction, which the caller opened on an id that
// no centre has. The centre asks for the usual papers, whatever the settings contain.
// It is for the operator, who has no token yet: package desk gives the centre its
// first manager. Fault: Malformed for an unknown time zone.
func Create(ctx context.Context, tx *pg.Tx, n Settings, demo bool) (Centre, error) {
	if err := when.CheckZone(n.TimeZone, "/time_zone"); err != nil {
		return Centre{}, err
	}
	centre, err := pg.Row[Centre](ctx, tx, `
		INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, crew_papers,
		student_papers,
			medical_months, demo, created_at, updated_at)
		VALUES (@centre, @name, @zone, @gauge, @age, @books, '{teaching_status,first_aid}', '{waiver}', 12,
			@demo, @now, @now)
		RETURNING `+centreColumns,
		pgx.StrictNamedArgs{"centre": tx.Centre, "name": n.Name, "zone": n.TimeZone, "gauge": n.GaugeUnit,
			"age": n.AgeOfMajority, "books": n.RuleBooks, "demo": demo, "now": tx.Now})
	if err != nil {
		return Centre{}, fmt.Errorf("create centre: %w", err)
	}
	centre.Now = tx.Now
	return centre, nil
}

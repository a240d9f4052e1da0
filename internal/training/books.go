package training

import (
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// applied are the rule books that the centre applies, and the level at which a
// session's course is taught.
type applied struct {
	RuleBooks []string
	OwnBook   *ratio.Book
	Level     ratio.Level
}

// queueApplied asks which rule books the centre applies.
func (d *diving) queueApplied(session uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		pg.QueueRows(b, &d.applied, `SELECT x.rule_books, x.own_book, c.level FROM centre_settings x
			JOIN sessions_session s ON s.centre_id = x.centre_id
			JOIN courses_course c ON c.centre_id = s.centre_id AND c.id = s.course_id
			WHERE x.centre_id = app_centre() AND s.id = @session`, pgx.StrictNamedArgs{"session": session})
	}
}

// learnBooks makes ready what was asked for.
func (d *diving) learnBooks() error {
	for _, x := range d.applied {
		var err error
		if d.books, err = ratio.Applied(x.RuleBooks, x.OwnBook); err != nil {
			return fmt.Errorf("read rule books: %w", err)
		}
		d.level = x.Level
	}
	return nil
}

// judgeBooks holds the greatest depth of a student against the strictest of the
// rule books that the centre applies.
func (d diving) judgeBooks(p part, depth *units.Reading) finding.List {
	if p.Role != "student" || depth == nil {
		return nil
	}
	least := ratio.DepthLimit(d.books, ratio.Setting(d.session.Kind), d.level, int(p.age(d.session)))
	limit := units.Read(least.Depth.In(units.UnitMetre), units.UnitMetre)
	if least.Depth == 0 || depth.Compare(limit) <= 0 {
		return nil
	}
	f := beyond(BeyondBook, p, *depth, limit, "by the rule book ("+least.Why+") a student goes to at most")
	f.Source = least.Source
	return finding.List{f}
}

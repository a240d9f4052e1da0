package watercheck

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// applyBooks notes the rule books that the centre applies, and the level at which the
// session's course is taught. The session was read with dayview.People.
func (d *DiveSnapshot) applyBooks() (err error) {
	if d.books, err = d.View.Centre.Books(); err != nil {
		return fmt.Errorf("read rule books: %w", err)
	}
	d.level = d.View.Course.Level
	return nil
}

// JudgeBooks holds the greatest depth of a student against the strictest of the
// rule books that the centre applies.
func (d DiveSnapshot) JudgeBooks(p Participant, depth *units.Reading) finding.List {
	if p.Role != "student" || depth == nil {
		return nil
	}
	least := ratio.DepthLimit(d.books, ratio.Setting(d.Session.Kind), d.level, int(p.age(d.Session)))
	limit := units.Read(least.Depth.In(units.UnitMetre), units.UnitMetre)
	if least.Depth == 0 || depth.Compare(limit) <= 0 {
		return nil
	}
	f := beyond(BeyondBook, p, *depth, limit, "by the rule book ("+least.Why+") a student goes to at most")
	f.Source = least.Source
	return finding.List{f}
}

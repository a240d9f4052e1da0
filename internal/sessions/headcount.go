package sessions

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// NewHeadCount is one person's count of everybody of an outing.
type NewHeadCount struct {
	Key       once.Key      `json:"Key"`
	OutingID  uuid.UUID     `json:"OutingID"`
	Phase     string        `json:"Phase"`     // departure, after_dive or return
	Dive      *int          `json:"Dive"`      // the number of the dive after which; nil: the latest that anybody had begun by then
	Figure    int           `json:"Figure"`    // as counted
	ByName    []NamedAboard `json:"ByName"`    // of a count by name: everybody whom it found
	CountedBy *uuid.UUID    `json:"CountedBy"` // the caller unless said
	CountedAt time.Time     `json:"CountedAt"`
}

// Times implements journal.Item.
func (n *NewHeadCount) Times() []*time.Time { return []*time.Time{&n.CountedAt} }

// Digest implements journal.Item.
func (n NewHeadCount) Digest(uuid.UUID) []byte { return n.Key.Digest }

// Names implements journal.Item.
func (n NewHeadCount) Names() []journal.Ref {
	out := journal.Named(journal.APerson, n.CountedBy)
	for _, x := range n.ByName {
		out = append(out, journal.Named(journal.APerson, x.PersonID)...)
	}
	return out
}

// NamedAboard is somebody whom a count by name found: a person or a guest.
type NamedAboard struct {
	PersonID     *uuid.UUID `json:"person_id"`
	GuestID      *uuid.UUID `json:"guest_id"`
	AccountedFor *string    `json:"accounted_for"` // where they are, and who says so; nil: seen aboard
}

// who names the person or the guest as package roster does.
func (n NamedAboard) who() string {
	if n.GuestID != nil {
		return roster.Guest + n.GuestID.String()
	}
	return member(*n.PersonID)
}

// HeadCount is a count as it was recorded.
type HeadCount struct {
	ID         uuid.UUID
	OutingID   uuid.UUID
	Phase      string
	DiveNumber *int // as it was named; Leg has the one that counts
	Figure     int
	CountedBy  uuid.UUID
	RecordedBy *uuid.UUID // nil for a program
	CountedAt  time.Time
	RecordedAt time.Time
	VoidedAt   *time.Time
	ByName     []NamedAboard
	Leg        roster.Leg        `db:"-"` // that it counts for
	OnList     int               `db:"-"` // of the outing's list at its own moment
	Expected   int               `db:"-"` // what it should have found; after a dive, without those in the water
	InWater    []ListedPerson    `db:"-"` // who was logged in the water then
	State      roster.CountState `db:"-"` // how the counts of its leg stand now
	Findings   finding.List      `db:"-"`
}

const headCountColumns = `e.id, e.outing_id, h.phase, h.dive_number, h.figure, e.witnessed_by AS counted_by, e.recorded_by,
	e.witnessed_at AS counted_at, e.recorded_at, e.voided_at, ` + namedSQL

const headCountFrom = ` FROM head_count h JOIN journal_entry e ON e.centre_id = h.centre_id AND e.id = h.id `

// LegCount is how the counts of one leg stand.
type LegCount struct {
	Leg      roster.Leg
	State    roster.CountState
	OnList   int
	Expected int
	InWater  []ListedPerson
	Findings finding.List
}

// legs returns how the counts of every leg stand.
func (h heads) legs() []LegCount {
	var out []LegCount
	for _, s := range h.Legs(everAfter) {
		out = append(out, LegCount{s.Leg, s.State, s.OnList, s.Expected, h.show(s.InWater), s.Findings})
	}
	return out
}

// expect fills in what counts should have found.
func (h heads) expect(counts []HeadCount) {
	legs := h.Legs(everAfter)
	for i := range counts {
		r := &counts[i]
		c := countRow{ID: r.ID, Phase: r.Phase, DiveNumber: r.DiveNumber, Figure: r.Figure,
			CountedBy: r.CountedBy, RecordedBy: r.RecordedBy,
			CountedAt: r.CountedAt, ByName: r.ByName}.asCount()
		r.Leg, r.OnList, r.Expected, r.InWater, r.State = h.LegOf(c), len(h.List(c.At)), h.Expected(c), h.show(h.InWater(c.At)), roster.NotCounted
		for _, s := range legs {
			if s.Leg == r.Leg {
				r.State, r.Findings = s.State, s.Findings
			}
		}
	}
}

// CountHeads records a count. It is never refused because it does not agree:
// the answer says how the counts of its leg stand now.
func (s *Service) CountHeads(ctx context.Context, by actor.Actor, n NewHeadCount) (out HeadCount, created bool,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, created, err = s.EnterCount(ctx, by, tx, n)
		return err
	})
	return out, created, err
}

// EnterCount is CountHeads in the caller's transaction.
func (s *Service) EnterCount(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewHeadCount) (out HeadCount,
	created bool, err error) {
	if err := lockOutings(ctx, tx, n.OutingID); err != nil {
		return out, false, err
	}
	seen, err := journal.Replay(ctx, tx, n.Key.ID, n.Key.Digest)
	if err != nil {
		return out, false, err
	}
	if _, err := findOuting(ctx, tx, n.OutingID); err != nil {
		return out, false, err
	}
	if !seen {
		if err := countOnce(ctx, by, tx, n); err != nil {
			return out, false, err
		}
	}
	list, err := headCounts(ctx, tx, n.OutingID)
	for _, c := range list {
		if c.ID == n.Key.ID {
			out = c
		}
	}
	return out, !seen, err
}

// countOnce records a count. The table keeps how long the list was by what was
// known then.
func countOnce(ctx context.Context, who actor.Actor, tx *pg.Tx, n NewHeadCount) error {
	if err := n.check(tx.Now); err != nil {
		return err
	}
	by, err := counter(ctx, who, tx, n.CountedBy, "/counted_by")
	if err != nil {
		return err
	}
	if err := namedThere(ctx, tx, n); err != nil {
		return err
	}
	known, err := readHeads(ctx, tx, n.OutingID)
	if err != nil {
		return err
	}
	if err := journal.Record(ctx, who, tx,
		journal.Entry{ID: n.Key.ID, Kind: journal.HeadCount, Outing: &n.OutingID, WitnessedBy: by,
			WitnessedAt: n.CountedAt, Digest: n.Key.Digest}); err != nil {
		return err
	}
	if _, err := tx.Do(ctx, `INSERT INTO head_count (centre_id, id, phase, dive_number, figure, on_list)
		VALUES (app_centre(), @id, @phase, @dive, @figure, @on_list)`,
		pgx.StrictNamedArgs{"id": n.Key.ID, "phase": n.Phase, "dive": n.Dive, "figure": n.Figure,
			"on_list": len(known[n.OutingID].List(n.CountedAt))}); err != nil {
		return err
	}
	return writeNamed(ctx, tx, n)
}

// check holds a count against what its own words allow.
func (n NewHeadCount) check(now time.Time) error {
	if err := journal.CheckTime(now, n.CountedAt, "/counted_at"); err != nil {
		return err
	}
	if n.Dive != nil && n.Phase != string(roster.AfterDive) {
		return fault.Invalid("/dive_number", "Only a count after a dive names a dive.")
	}
	seen := map[string]bool{}
	for i, x := range n.ByName {
		at := fmt.Sprintf("/by_name/%d", i)
		if (x.PersonID == nil) == (x.GuestID == nil) {
			return fault.Invalid(at, "Name a person or a guest, one of the two, as the outing's list has them.")
		}
		if seen[x.who()] {
			return fault.Invalid(at, "This one is named twice: once is enough.")
		}
		seen[x.who()] = true
	}
	return nil
}

// namedThere insists that whom a count names is there: people of the centre, and
// guests of the outing.
func namedThere(ctx context.Context, tx *pg.Tx, n NewHeadCount) error {
	if len(n.ByName) == 0 {
		return nil
	}
	var people, guests []uuid.UUID
	for _, x := range n.ByName {
		if x.PersonID != nil {
			people = append(people, *x.PersonID)
		} else {
			guests = append(guests, *x.GuestID)
		}
	}
	there, err := pg.Rows[uuid.UUID](ctx, tx,
		`SELECT id FROM people_person WHERE centre_id = app_centre() AND id = ANY (@people)
		UNION ALL SELECT id FROM outing_guest WHERE centre_id = app_centre() AND id = ANY (@guests) AND outing_id = @outing`,
		pgx.StrictNamedArgs{"people": people, "guests": guests, "outing": n.OutingID})
	if err != nil || len(there) == len(n.ByName) {
		return err
	}
	for i, x := range n.ByName {
		switch {
		case x.PersonID != nil && !slices.Contains(there, *x.PersonID):
			return fault.UnknownReference("person", fmt.Sprintf("/by_name/%d/person_id", i))
		case x.GuestID != nil && !slices.Contains(there, *x.GuestID):
			return fault.UnknownReference("guest of this outing", fmt.Sprintf("/by_name/%d/guest_id", i))
		}
	}
	return pg.ErrRetry
}

// writeNamed writes whom a count names.
func writeNamed(ctx context.Context, tx *pg.Tx, n NewHeadCount) error {
	var people, guests []*uuid.UUID
	var accounted []*string
	for _, x := range n.ByName {
		people, guests, accounted = append(people, x.PersonID), append(guests, x.GuestID), append(accounted,
			x.AccountedFor)
	}
	if len(people) == 0 {
		return nil
	}
	_, err := tx.Do(ctx, `INSERT INTO head_count_name (centre_id, head_count_id, number, person_id, guest_id, accounted_for)
		SELECT app_centre(), @id, x.number, x.person_id, x.guest_id, x.accounted_for
		FROM unnest(@people::uuid[], @guests::uuid[], @accounted::text[]) WITH ORDINALITY AS x (person_id, guest_id, accounted_for, number)`,
		pgx.StrictNamedArgs{"id": n.Key.ID, "people": people, "guests": guests, "accounted": accounted})
	return err
}

// counter returns who counted, or saw an incident: somebody of the centre. pointer
// is the member of the body that says so.
func counter(ctx context.Context, who actor.Actor, tx *pg.Tx, said *uuid.UUID, pointer string) (uuid.UUID,
	error) {
	by := who.Person
	if said != nil {
		by = *said
	}
	if by == uuid.Nil {
		return by, fault.Invalid(pointer, "Say in {member} who saw it; a program sees nobody.", pointer[1:])
	}
	_, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
		`SELECT id FROM people_person WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": by})
	if err == nil && !found {
		err = fault.UnknownReference("person", pointer)
	}
	return by, err
}

// HeadCounts lists the counts of an outing in the order in which they were
// made, voided ones included.
func (s *Service) HeadCounts(ctx context.Context, by actor.Actor, outing uuid.UUID) (out []HeadCount,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findOuting(ctx, tx, outing); err != nil {
			return err
		}
		out, err = headCounts(ctx, tx, outing)
		return err
	})
	return out, err
}

// headCounts reads the counts of an outing with what they should have found.
func headCounts(ctx context.Context, tx *pg.Tx, outing uuid.UUID) ([]HeadCount, error) {
	out, err := pg.Rows[HeadCount](ctx, tx, `SELECT `+headCountColumns+headCountFrom+`
		WHERE e.centre_id = app_centre() AND e.outing_id = @id ORDER BY e.witnessed_at, e.id`, pgx.StrictNamedArgs{"id": outing})
	if err != nil {
		return nil, err
	}
	h, err := readHeads(ctx, tx, outing)
	if err != nil {
		return nil, err
	}
	h[outing].expect(out)
	return out, nil
}

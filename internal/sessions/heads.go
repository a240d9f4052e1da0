package sessions

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// What a head count should find depends on what else is known of its moment: the
// roll calls and the water log. So it is worked out on reading, by witnessed
// time, and the order in which things reached the service plays no part.

// heads is what the head counts of an outing are judged by.
type heads struct {
	roster.Heads
	shown    map[string]ListedPerson // by roster.ListedPerson.Who
	sessions int                     // that are not cancelled
}

// everAfter is a moment by which everything that is known has happened.
var everAfter = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

// aboardRow is somebody's part in a session of an outing.
type aboardRow struct {
	OutingID uuid.UUID
	PersonID uuid.UUID
	Name     string
	Part     string
	Placed   bool
}

// guestRow is a guest of an outing.
type guestRow struct {
	OutingID uuid.UUID
	ID       uuid.UUID
	PersonID *uuid.UUID
	Name     string
	Part     string
	LeftAt   *time.Time
}

// saidRow is what a roll call that stands said of somebody.
type saidRow struct {
	OutingID   uuid.UUID
	PersonID   uuid.UUID
	Attendance Attendance
	Aboard     *bool
	At         time.Time
}

// swimRow is somebody's dive as it was logged.
type swimRow struct {
	OutingID uuid.UUID
	PersonID uuid.UUID
	Number   int
	InAt     time.Time
	OutAt    *time.Time
}

// countRow is a head count that stands.
type countRow struct {
	OutingID   uuid.UUID
	ID         uuid.UUID
	Phase      string
	DiveNumber *int
	Figure     int
	CountedBy  uuid.UUID
	RecordedBy *uuid.UUID
	CountedAt  time.Time
	ByName     []NamedAboard
}

// namedSQL reads whom a count names, as JSON; h is the head_count.
const namedSQL = `COALESCE((SELECT jsonb_agg(jsonb_build_object('person_id', w.person_id, 'guest_id', w.guest_id, 'accounted_for', w.accounted_for) ORDER BY w.number)
		FROM head_count_name w WHERE w.centre_id = h.centre_id AND w.head_count_id = h.id), '[]') AS by_name`

// headRows are the rows of some outings that their head counts are judged by.
type headRows struct {
	sessions []heldRow
	parts    []aboardRow
	guests   []guestRow
	said     []saidRow
	swims    []swimRow
	counts   []countRow
}

// queue reads them in a batch.
func (r *headRows) queue(b *pgx.Batch, outings []uuid.UUID) {
	args := pgx.StrictNamedArgs{"ids": outings}
	pg.QueueRows(b, &r.sessions, `SELECT outing_id, count(*) AS sessions FROM session
		WHERE centre_id = app_centre() AND outing_id = ANY (@ids) AND state <> 'cancelled' GROUP BY outing_id`, args)
	pg.QueueRows(b, &r.parts, `SELECT s.outing_id, p.person_id, n.name, p.role AS part, p.placed
		FROM session s
		JOIN participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
		JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
		WHERE s.centre_id = app_centre() AND s.outing_id = ANY (@ids) AND s.state <> 'cancelled' ORDER BY s.starts_at, s.id`, args)
	pg.QueueRows(b, &r.guests, `SELECT outing_id, id, person_id, name, part, left_at FROM outing_guest
		WHERE centre_id = app_centre() AND outing_id = ANY (@ids) ORDER BY id`, args)
	pg.QueueRows(b, &r.said, `SELECT s.outing_id, p.person_id, r.attendance, r.aboard, e.witnessed_at AS at
		FROM session s
		JOIN participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
		JOIN journal_entry e ON e.centre_id = p.centre_id AND e.participant_id = p.id AND e.kind = 'roll_call'
		JOIN roll_call r ON r.centre_id = e.centre_id AND r.id = e.id
		WHERE s.centre_id = app_centre() AND s.outing_id = ANY (@ids) AND s.state <> 'cancelled' AND e.voided_at IS NULL
		ORDER BY e.witnessed_at, e.id`, args)
	pg.QueueRows(b, &r.swims, `SELECT s.outing_id, p.person_id, d.number, t.in_at, t.out_at
		FROM session s
		JOIN participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
		JOIN waterlog_dive t ON t.centre_id = p.centre_id AND t.participant_id = p.id
		JOIN dive d ON d.centre_id = t.centre_id AND d.id = t.dive_id
		WHERE s.centre_id = app_centre() AND s.outing_id = ANY (@ids) AND s.state <> 'cancelled'
		ORDER BY t.in_at, t.start_id`, args)
	pg.QueueRows(b, &r.counts,
		`SELECT e.outing_id, e.id, h.phase, h.dive_number, h.figure, e.witnessed_by AS counted_by, e.recorded_by,
			e.witnessed_at AS counted_at, `+namedSQL+headCountFrom+`
		WHERE e.centre_id = app_centre() AND e.outing_id = ANY (@ids) AND e.kind = 'head_count' AND e.voided_at IS NULL`, args)
}

// readHeads reads what the head counts of some outings are judged by, in one
// round trip however many there are.
func readHeads(ctx context.Context, tx *pg.Tx, outings ...uuid.UUID) (map[uuid.UUID]heads, error) {
	var b pgx.Batch
	var r headRows
	r.queue(&b, outings)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]heads, len(outings))
	for _, id := range outings {
		h := heads{Heads: roster.Heads{Outing: finding.Subject{Type: "outing", ID: id.String()}},
			shown: map[string]ListedPerson{}}
		for _, s := range of(r.sessions, id, func(x heldRow) uuid.UUID { return x.OutingID }) {
			h.sessions = s.Sessions
		}
		h.fill(of(r.parts, id, func(x aboardRow) uuid.UUID { return x.OutingID }),
			of(r.said, id, func(x saidRow) uuid.UUID { return x.OutingID }))
		h.guests(of(r.guests, id, func(x guestRow) uuid.UUID { return x.OutingID }))
		h.log(of(r.swims, id, func(x swimRow) uuid.UUID { return x.OutingID }))
		h.count(of(r.counts, id, func(x countRow) uuid.UUID { return x.OutingID }))
		out[id] = h
	}
	return out, nil
}

// heldRow is how many sessions an outing has that are not cancelled.
type heldRow struct {
	OutingID uuid.UUID
	Sessions int
}

// of picks the rows of one outing.
func of[T any](rows []T, outing uuid.UUID, where func(T) uuid.UUID) (out []T) {
	for _, r := range rows {
		if where(r) == outing {
			out = append(out, r)
		}
	}
	return out
}

// fill puts the participants on the list. Whoever no plan expected is on it from
// the first roll call that brings them.
func (h *heads) fill(parts []aboardRow, said []saidRow) {
	placed := map[uuid.UUID]bool{}
	for _, p := range parts {
		placed[p.PersonID] = placed[p.PersonID] || p.Placed
	}
	for _, p := range parts {
		who := member(p.PersonID)
		if _, twice := h.shown[who]; twice {
			continue
		}
		a := roster.ListedPerson{Who: who, Name: p.Name}
		calls := slices.DeleteFunc(slices.Clone(said), func(r saidRow) bool { return r.PersonID != p.PersonID })
		if !placed[p.PersonID] {
			if len(calls) == 0 {
				continue // nobody says that they came
			}
			a.From = &calls[0].At
		}
		for _, c := range calls {
			if aboard, says := c.aboard(); says {
				a.Said = append(a.Said, roster.RollCallEntry{At: c.At, Aboard: aboard})
			}
		}
		h.People = append(h.People, a)
		h.shown[who] = ListedPerson{PersonID: &p.PersonID, Name: p.Name, Part: p.Part}
	}
}

// aboard returns whether a roll call has somebody aboard. One that has them absent
// or gone, and says no more, leaves it open.
func (r saidRow) aboard() (aboard, says bool) {
	switch {
	case r.Aboard != nil:
		return *r.Aboard, true
	case r.Attendance == Absent || r.Attendance == LeftEarly:
		return true, false
	}
	return true, true
}

// guests puts the guests on the list. One who is a person and takes part too is
// one of both, and aboard while either is.
func (h *heads) guests(rows []guestRow) {
	for _, g := range rows {
		a := roster.ListedPerson{Who: roster.Guest + g.ID.String(), Name: g.Name, Until: g.LeftAt}
		shown := ListedPerson{PersonID: g.PersonID, GuestID: &g.ID, Name: g.Name, Part: g.Part}
		if g.PersonID != nil {
			if i := slices.IndexFunc(h.People,
				func(p roster.ListedPerson) bool { return p.Who == member(*g.PersonID) }); i >= 0 {
				h.People[i].Also = append(h.People[i].Also, a)
				continue
			}
		}
		h.People = append(h.People, a)
		h.shown[a.Who] = shown
	}
}

func (h *heads) log(rows []swimRow) {
	for _, r := range rows {
		h.Swims = append(h.Swims,
			roster.TimeInWater{Who: member(r.PersonID), Dive: r.Number, In: r.InAt, Out: r.OutAt})
	}
}

func (h *heads) count(rows []countRow) {
	for _, r := range rows {
		h.Counts = append(h.Counts, r.asCount())
	}
}

// asCount returns a count as it is judged.
func (r countRow) asCount() roster.Count {
	c := roster.Count{ID: r.ID.String(), By: r.CountedBy.String(),
		Leg: roster.Leg{Phase: roster.Phase(r.Phase)}, Figure: r.Figure, At: r.CountedAt}
	if r.RecordedBy != nil {
		c.Entered = r.RecordedBy.String()
	}
	if r.DiveNumber != nil {
		c.Leg.Dive = *r.DiveNumber
	}
	for _, n := range r.ByName {
		c.Named = append(c.Named, roster.Named{Who: n.who(), Elsewhere: n.AccountedFor != nil})
	}
	return c
}

func member(id uuid.UUID) string { return roster.Member + id.String() }

// list returns how the list at a moment is shown, by name.
func (h heads) list(at time.Time) []ListedPerson {
	return h.show(h.List(at))
}

// show returns how people are shown, by name and part.
func (h heads) show(people []roster.ListedPerson) []ListedPerson {
	out := make([]ListedPerson, len(people))
	for i, a := range people {
		out[i] = h.shown[a.Who]
	}
	slices.SortStableFunc(out,
		func(a, b ListedPerson) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Part, b.Part)) })
	return out
}

// opening finds what of head counts speaks against opening a session of the
// outing.
func (h heads) opening() finding.List { return h.Opening(everAfter, h.sessions > 1) }

// headsAgainst finds what of head counts speaks against opening a session. Its
// outing is locked.
func headsAgainst(ctx context.Context, tx *pg.Tx, row Session) (finding.List, error) {
	if !row.InWater() || row.OutingID == nil {
		return nil, nil
	}
	h, err := readHeads(ctx, tx, *row.OutingID)
	return h[*row.OutingID].opening(), err
}

// headsOf finds, by session, what of head counts speaks against opening those of
// some sessions that are planned.
func headsOf(ctx context.Context, tx *pg.Tx, sessions []Session) (map[uuid.UUID]finding.List, error) {
	var outings []uuid.UUID
	for _, s := range sessions {
		if s.State == Planned && s.InWater() && s.OutingID != nil && !slices.Contains(outings, *s.OutingID) {
			outings = append(outings, *s.OutingID)
		}
	}
	if len(outings) == 0 {
		return nil, nil
	}
	h, err := readHeads(ctx, tx, outings...)
	out := map[uuid.UUID]finding.List{}
	for _, s := range sessions {
		if s.State == Planned && s.InWater() && s.OutingID != nil {
			out[s.ID] = h[*s.OutingID].opening()
		}
	}
	return out, err
}

// headsAt finds, for moments of a session, whether heads were counted last by
// then and not settled.
func headsAt(ctx context.Context, tx *pg.Tx, row Session, moments []time.Time) ([]finding.List, error) {
	out := make([]finding.List, len(moments))
	if row.OutingID == nil || len(moments) == 0 {
		return out, nil
	}
	h, err := readHeads(ctx, tx, *row.OutingID)
	for i, at := range moments {
		out[i] = h[*row.OutingID].NotSettled(at)
	}
	return out, err
}

// HeadsAt returns, for times in of a session, whether heads were counted last by then
// and not settled.
func (s *Service) HeadsAt(ctx context.Context, tx *pg.Tx, session Session, in []time.Time) ([]finding.List,
	error) {
	return headsAt(ctx, tx, session, in)
}

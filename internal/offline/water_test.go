package offline_test

import (
	"context"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
)

// Three phones come back into coverage in any order, send what they kept in
// pieces of any size, shuffled, some of it several times and some of it cut off
// in the middle, all at once. What stands in the end is what stands when the
// whole weekend arrives in its order: the same facts, sign-offs, held and refused
// entries, findings and progress. TANKSIDE_SEED repeats one run.
func TestEveryOrderOfArrivalEndsTheSame(t *testing.T) {
	d := newDay(t)
	for _, p := range d.phones { // in order, phone by phone
		_, err := p.send(d.Context(), d.offline, p.kept)
		require.NoError(t, err)
	}
	want := d.left(t)
	for _, of := range []string{"training.in_already", "training.out_already", "training.group_not_cleared",
		"training.above_rating",
		"syllabus.signed_though_absent", "sessions.placed_otherwise", "syllabus.dive_beyond_limit", "training.not_there", `"held"`, `"refused"`} {
		require.True(t, strings.Contains(want, of), "the weekend leaves nothing of %s", of)
	}
	seeds := []uint64{rand.Uint64(), rand.Uint64(), rand.Uint64(), rand.Uint64()}
	if text := os.Getenv("TANKSIDE_SEED"); text != "" {
		seed, err := strconv.ParseUint(text, 10, 64)
		require.NoError(t, err)
		seeds = []uint64{seed}
	}
	for _, seed := range seeds {
		d := newDay(t)
		d.arrive(t, seed)
		if at, line := differ(want, d.left(t)); line != "" {
			require.Fail(t, "another order left something else", "TANKSIDE_SEED=%d, from line %d on:\n%s", seed,
				at, line)
		}
	}
}

// differ gives the first lines in which two texts differ, "" when they do not.
func differ(want, got string) (at int, lines string) {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			from := max(0, i-12)
			return i + 1, strings.Join(a[from:i], "\n") + "\nwant " + a[i] + "\ngot  " + b[i]
		}
	}
	if len(a) != len(b) {
		return min(len(a), len(b)), "one has more lines"
	}
	return 0, ""
}

// arrive lets the phones send what they kept, all at once, as chance has it.
func (d *day) arrive(t *testing.T, seed uint64) {
	t.Helper()
	var all sync.WaitGroup
	failed := make(chan error, 3*len(d.phones))
	for n, p := range d.phones {
		for twin := range 2 { // the same phone's app, opened twice
			all.Go(func() {
				failed <- d.trickle(p, rand.New(rand.NewPCG(seed, uint64(2*n+twin))))
			})
		}
	}
	all.Wait()
	close(failed)
	for err := range failed {
		require.NoError(t, err, "TANKSIDE_SEED=%d", seed)
	}
}

// trickle sends everything that a phone kept, in shuffled pieces; some of them
// are cut off, and everything is sent again until it was answered.
func (d *day) trickle(p *device, r *rand.Rand) error {
	left := slices.Clone(p.kept)
	r.Shuffle(len(left), func(i, j int) { left[i], left[j] = left[j], left[i] })
	for len(left) > 0 {
		n := min(1+r.IntN(12), len(left))
		piece := slices.Concat(left[:n], left[:r.IntN(n)]) // some of it twice
		if r.IntN(3) == 0 {
			ctx, cut := context.WithTimeout(d.Context(), time.Duration(r.IntN(40))*time.Millisecond)
			_, _ = p.send(ctx, d.offline, piece) // whether it got through, the phone does not know
			cut()
		}
		if _, err := p.send(d.Context(), d.offline, piece); err != nil {
			return err
		}
		left = left[n:]
	}
	return nil
}

// rows are what the session keeps of its facts.
func (d *day) rows(t *testing.T, session uuid.UUID) (out []string) {
	t.Helper()
	require.NoError(t, d.DB.InTx(t.Context(), d.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Rows[string](ctx, tx, `SELECT x FROM (
				SELECT concat_ws(' ', id, group_id, person_id, enrolment_id, role, attendance, attendance_at, counted, booked) AS x FROM participant WHERE session_id = @id
				UNION ALL SELECT concat_ws(' ', id, students, places, cleared, findings) FROM session_group WHERE session_id = @id
				UNION ALL SELECT concat_ws(' ', id, visibility, current, temperature) FROM session WHERE id = @id) x ORDER BY x`,
			pgx.StrictNamedArgs{"id": session})
		return err
	}))
	return out
}

func (d *day) one(sql string, id uuid.UUID) (out uuid.UUID) {
	_ = d.DB.InTx(d.Context(), d.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Row[uuid.UUID](ctx, tx, sql, pgx.StrictNamedArgs{"id": id})
		return err
	})
	return out
}

func (d *day) groupOf(session uuid.UUID) uuid.UUID {
	return d.one(`SELECT id FROM session_group WHERE session_id = @id AND name = 'blue'`, session)
}

func (d *day) inCharge(session uuid.UUID) uuid.UUID {
	return d.one(`SELECT person_id FROM participant WHERE session_id = @id AND role = 'in_charge'`, session)
}

func (d *day) outingOf(session uuid.UUID) uuid.UUID {
	return d.one(`SELECT outing_id FROM session WHERE id = @id`, session)
}

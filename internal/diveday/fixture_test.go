package diveday

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// water is a centre with an instructor, and dives written as training records
// them. It is Sunday 7 June 2026, 18:00 UTC.
type water struct {
	*scenetest.Fixture
	t          testing.TB
	reader     *Reader
	instructor uuid.UUID
	by         actor.Actor // of the instructor
	course     uuid.UUID
}

func newWater(t testing.TB) *water {
	t.Helper()
	w := &water{Fixture: scenetest.New(t), t: t}
	w.reader = New(w.DB.DB)
	w.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	w.instructor = w.Crew("Ines Instructor", "instructor")
	w.by = w.As(w.instructor)
	w.course = w.Course(syllabus.BuiltIn())
	return w
}

// part returns the instructor's part in a session, made when there is none.
func (w *water) part(session uuid.UUID) uuid.UUID { return w.partOf(session, w.instructor) }

func (w *water) partOf(session, person uuid.UUID) uuid.UUID {
	w.t.Helper()
	var got []uuid.UUID
	require.NoError(w.t, w.DB.InTx(w.t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		got, err = pg.Rows[uuid.UUID](ctx, tx,
			`SELECT id FROM participant WHERE session_id = @s AND person_id = @p`, pgx.StrictNamedArgs{"s": session, "p": person})
		return err
	}))
	if len(got) > 0 {
		return got[0]
	}
	return w.Participant(session, nil, person, nil, "instructor")
}

func read(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }

// log writes a dive, witnessed by the instructor, and returns the ids of its start and
// its end.
func (w *water) log(d scenetest.Dive) (start, end uuid.UUID) {
	w.t.Helper()
	return w.LogDive(w.instructor, d)
}

// void voids an entry.
func (w *water) void(entry uuid.UUID) {
	w.t.Helper()
	w.Exec(`INSERT INTO entry_void (centre_id, entry_id, reason, voided_by, token_id, voided_at)
		SELECT @centre, @id, 'a slip', @who, (SELECT id FROM token WHERE person_id = @who), @now`, pgx.NamedArgs{"id": entry, "who": w.instructor})
}

// in runs a reading in a transaction of the centre.
func (w *water) in(read func(ctx context.Context, tx *pg.Tx) error) {
	w.t.Helper()
	require.NoError(w.t, w.DB.InTx(w.t.Context(), w.Centre, read))
}

func (w *water) syllabus() syllabus.Syllabus { return syllabus.BuiltIn() }

package planning

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
	"tankside/internal/versions"
)

// water is a centre with an instructor, and dives written as training records
// them. It is Sunday 7 June 2026, 18:00 UTC.
type water struct {
	*scenetest.Fixture
	t          testing.TB
	service    *Service
	instructor uuid.UUID
	by         actor.Actor // of the instructor
	course     uuid.UUID
}

func newWater(t testing.TB) *water {
	t.Helper()
	w := &water{Fixture: scenetest.New(t), t: t}
	w.service = New(w.DB.DB, versions.New[syllabus.Syllabus]())
	w.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	w.instructor = w.Crew("Ines Instructor", "instructor")
	w.by = w.As(w.instructor)
	w.course = w.Course(syllabus.BuiltIn())
	return w
}

// part gives the instructor's part in a session, made when there is none.
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

// look is a gas check.
type look struct {
	at      time.Time
	depth   *units.Reading
	reading units.Reading
	dive    bool // names the dive
}

// logged is a dive to be written.
type logged struct {
	part, dive   uuid.UUID
	in, out      time.Time // out zero: none
	depth        *units.Reading
	size, rating *units.Reading
	start, end   *units.Reading
	looks        []look
}

func read(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }

// log writes a dive with its looks and gives the ids of its start and its end.
func (w *water) log(d logged) (start, end uuid.UUID) {
	w.t.Helper()
	start, end = uuid.New(), uuid.New()
	entry := func(id uuid.UUID, kind string, at time.Time) {
		w.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
			SELECT @centre, @id, @kind, p.session_id, p.id, @who, (SELECT id FROM token WHERE person_id = @who), @at, @now, '' FROM participant p WHERE p.id = @part`,
			pgx.NamedArgs{"id": id, "kind": kind, "who": w.instructor, "at": at, "part": d.part})
	}
	columns := func(args pgx.NamedArgs, name string, r *units.Reading) {
		args[name], args[name+"_unit"] = pg.Columns(r)
	}
	entry(start, "dive_start", d.in)
	args := pgx.NamedArgs{"id": start, "dive": d.dive, "part": d.part}
	columns(args, "size", d.size)
	columns(args, "rating", d.rating)
	columns(args, "start", d.start)
	w.Exec(`INSERT INTO dive_start (centre_id, id, dive_id, participant_id, size_value, size_unit, rating_value, rating_unit, start_value, start_unit)
		VALUES (@centre, @id, @dive, @part, @size, @size_unit, @rating, @rating_unit, @start, @start_unit)`, args)
	if !d.out.IsZero() {
		entry(end, "dive_end", d.out)
		args := pgx.NamedArgs{"id": end, "start": start}
		columns(args, "depth", d.depth)
		columns(args, "end", d.end)
		w.Exec(`INSERT INTO dive_end (centre_id, id, dive_start_id, depth_value, depth_unit, end_value, end_unit)
			VALUES (@centre, @id, @start, @depth, @depth_unit, @end, @end_unit)`, args)
	}
	for _, l := range d.looks {
		id := uuid.New()
		entry(id, "gas_check", l.at)
		args := pgx.NamedArgs{"id": id, "part": d.part, "dive": nil, "reading": l.reading.Value.Float(),
			"reading_unit": string(l.reading.Unit)}
		if l.dive {
			args["dive"] = d.dive
		}
		columns(args, "depth", l.depth)
		w.Exec(`INSERT INTO gas_check (centre_id, id, participant_id, dive_id, depth_value, depth_unit, reading_value, reading_unit, verdict)
			VALUES (@centre, @id, @part, @dive, @depth, @depth_unit, @reading, @reading_unit, 'unverified')`, args)
	}
	return start, end
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

package diveday

import (
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// manyYears are the rows of an instructor of five years beside a session: 1500
// sessions 20 hours apart, two dives in each, five gas checks in each dive.
var manyYears = []string{
	`CREATE TEMP TABLE y AS SELECT n, gen_random_uuid() AS s, gen_random_uuid() AS p FROM generate_series(1, 1500) n`,
	`INSERT INTO session SELECT (jsonb_populate_record(q, jsonb_build_object('id', s, 'state', 'closed', 'starts_at', q.starts_at - n * interval '20 hours',
		'ends_at', q.ends_at - n * interval '20 hours', 'during', tstzrange(q.starts_at - n * interval '20 hours', q.ends_at - n * interval '20 hours')))).*
		FROM session q, y WHERE q.id = @session`,
	`INSERT INTO dive (centre_id, id, session_id, number) SELECT @centre, gen_random_uuid(), s, k FROM y, generate_series(1, 2) k`,
	`INSERT INTO participant (centre_id, id, session_id, person_id, role, gauge_unit, attendance, during, body_digest, created_at, updated_at)
		SELECT @centre, y.p, y.s, @who, 'instructor', 'bar', 'present', s.during, '', now(), now() FROM y JOIN session s ON s.id = y.s`,
	`CREATE TEMP TABLE d AS SELECT gen_random_uuid() AS start_id, gen_random_uuid() AS end_id, d.id, y.p, y.s, s.starts_at + d.number * interval '1 hour' AS at
		FROM y JOIN session s ON s.id = y.s JOIN dive d ON d.session_id = y.s`,
	`CREATE TEMP TABLE c AS SELECT gen_random_uuid() AS id, d.id AS dive, p, s, at + k * interval '5 minutes' AS at, 200 - 17 * k AS bar FROM d, generate_series(1, 5) k`,
	`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		SELECT @centre, x.id, kind, s, p, @who, t.id, at, now(), '' FROM (SELECT start_id, 'time_in', s, p, at FROM d
			UNION ALL SELECT end_id, 'time_out', s, p, at + interval '30 minutes' FROM d
				UNION ALL SELECT id, 'gas_check', s, p, at FROM c) x (id, kind, s, p, at),
		token t WHERE t.person_id = @who`,
	`INSERT INTO time_in (centre_id, id, dive_id, participant_id, size, start_pressure) SELECT @centre, start_id, id, p, '(12,L)', '(200,bar)' FROM d`,
	`INSERT INTO time_out (centre_id, id, time_in_id, depth, end_pressure) SELECT @centre, end_id, start_id, '(10,m)', '(100,bar)' FROM d`,
	`INSERT INTO gas_check (centre_id, id, participant_id, dive_id, depth, reading, verdict)
		SELECT @centre, id, p, dive, '(10,m)', ROW (bar, 'bar')::reading, 'unverified' FROM c`,
	`ANALYZE`,
}

// BenchmarkAnInstructorOfFiveYears reads the rate and the day of somebody with
// 3000 dives.
func BenchmarkAnInstructorOfFiveYears(b *testing.B) {
	w := newWater(b)
	session := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1, 2)
	w.part(session)
	conn, err := pgx.Connect(b.Context(), w.DB.SuperURL)
	require.NoError(b, err)
	defer func() { _ = conn.Close(b.Context()) }()
	for _, sql := range manyYears {
		_, err := conn.Exec(b.Context(), sql,
			pgx.NamedArgs{"centre": w.Centre, "session": session, "who": w.instructor})
		require.NoError(b, err, sql)
	}
	b.Run("rate", func(b *testing.B) {
		for b.Loop() {
			r, err := w.reader.BreathingRate(b.Context(), w.by, w.instructor)
			require.NoError(b, err)
			require.Len(b, r.Dives, lastDives)
		}
	})
	b.Run("day", func(b *testing.B) {
		for b.Loop() {
			d, err := w.reader.DivesOn(b.Context(), w.by, w.instructor, sundayDay)
			require.NoError(b, err)
			require.Len(b, d.Dives, 2)
		}
	})
}

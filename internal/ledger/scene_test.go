package ledger_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// Two tables as a feature might have them: what was decided, and the readings
// that it rests on. They are of this test only.
const tables = `
	CREATE TABLE verdict (
		centre_id uuid, id uuid, enrolment_id uuid, skill text, figure numeric(7,2), note text, findings jsonb,
		decided_at timestamptz, decided_by uuid, token_id uuid,
		PRIMARY KEY (centre_id, id));
	CALL bind_to_centre('verdict', 'SELECT, INSERT');
	CREATE TABLE gauge_reading (centre_id uuid, id uuid, bar numeric(7,2), seen_at timestamptz, PRIMARY KEY (centre_id, id));
	CALL bind_to_centre('gauge_reading', 'SELECT, INSERT');`

var (
	readings = ledger.Witnessed{Type: "reading",
		SQL: `SELECT id AS ref, bar, seen_at FROM gauge_reading WHERE centre_id = @centre`}
	sources = ledger.Sources{
		Decided: []ledger.Decided{
			{Kind: ledger.SignOff, SQL: `SELECT id AS ref, enrolment_id AS subject, skill, figure, note, findings,
				decided_at AS at, decided_by AS person, token_id AS token
				FROM verdict WHERE centre_id = @centre`},
			{Kind: ledger.ClearanceLost},
		},
		Witnessed: []ledger.Witnessed{readings},
	}
)

// verdict is what the ledger keeps of a row of that table.
type verdict struct {
	Skill    string            `json:"skill"`
	Figure   float64           `json:"figure"`
	Findings ledger.Hash       `json:"findings"` // of the list
	Evidence []ledger.Evidence `json:"evidence"`
}

// findings is a list of which the ledger keeps the digest only.
func findings(at time.Time) []map[string]any {
	return []map[string]any{{"rule": "depth", "limit": 12.0, "at": at}, {"rule": "order"}}
}

// scene is a centre with one instructor calling.
type scene struct {
	*pgtest.DB
	t      testing.TB
	centre uuid.UUID
	who    actor.Actor
	super  *pgx.Conn // passes by policies, constraints and triggers
	bare   bool      // decide as releases did before there were salts
}

// salt is that of a new decision.
func (s *scene) salt() ledger.Salt {
	if s.bare {
		return ledger.Salt{}
	}
	return ledger.NewSalt()
}

// hashText is the bare hash of a text.
func hashText(text string) ledger.Hash { return sha256.Sum256([]byte(text)) }

func newScene(t testing.TB) *scene {
	t.Helper()
	s := &scene{DB: pgtest.New(t), t: t}
	owner, err := pgx.Connect(t.Context(), s.OwnerURL)
	require.NoError(t, err)
	_, err = owner.Exec(t.Context(), tables)
	require.NoError(t, err)
	require.NoError(t, owner.Close(t.Context()))
	s.super, err = pgx.Connect(t.Context(), s.SuperURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.super.Close(context.Background()) })
	s.tamper(`SET session_replication_role = replica`)
	s.centre = s.addCentre()
	s.who = actor.Actor{Centre: s.centre, Token: uuid.New(), Person: uuid.New(),
		Roles: []actor.Role{actor.Instructor}}
	return s
}

func (s *scene) addCentre() uuid.UUID {
	id := uuid.New()
	s.tamper(`INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, crew_papers,
			student_papers, medical_months, created_at, updated_at)
		VALUES ($1, 'Harbour wall', 'Europe/Malta', 'bar', 18, '{}', '{}', '{}', 12, now(), now())`, id)
	return id
}

// tamper does what no role of the service may.
func (s *scene) tamper(sql string, args ...any) {
	s.t.Helper()
	_, err := s.super.Exec(s.t.Context(), sql, args...)
	require.NoError(s.t, err)
}

// in runs fn as the service does.
func (s *scene) in(fn func(ctx context.Context, tx *pg.Tx) error) error {
	return s.InTx(s.t.Context(), s.centre, fn)
}

// decide writes one verdict on each skill, each resting on one reading, with
// their entries, and gives the ids of the verdicts.
func (s *scene) decide(enrolment uuid.UUID, skills ...string) []uuid.UUID {
	s.t.Helper()
	var ids []uuid.UUID
	require.NoError(s.t, s.in(func(ctx context.Context, tx *pg.Tx) error {
		ids = nil
		var entries []ledger.Entry
		for _, skill := range skills {
			e, err := s.verdict(ctx, tx, enrolment, skill)
			if err != nil {
				return err
			}
			ids, entries = append(ids, e.Ref), append(entries, e)
		}
		return ledger.AppendAll(ctx, s.who, tx, entries)
	}))
	return ids
}

func (s *scene) verdict(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID, skill string) (ledger.Entry,
	error) {
	id, reading := uuid.New(), uuid.New()
	if _, err := tx.Do(ctx, `INSERT INTO gauge_reading VALUES (@centre, @id, 187.5, @now)`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": reading, "now": tx.Now}); err != nil {
		return ledger.Entry{}, err
	}
	if _, err := tx.Do(ctx, `INSERT INTO verdict VALUES (@centre, @id, @enrolment, @skill, 12.50, NULL, @findings, @now, @by, @token)`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": id, "enrolment": enrolment, "skill": skill,
			"findings": findings(tx.Now),
			"now":      tx.Now, "by": s.who.Person, "token": s.who.Token}); err != nil {
		return ledger.Entry{}, err
	}
	found, err := ledger.Digest(findings(tx.Now))
	if err != nil {
		return ledger.Entry{}, err
	}
	evidence, err := readings.Gather(ctx, tx, reading)
	salt := s.salt()
	if salt != (ledger.Salt{}) {
		if found, err = salt.Digest(findings(tx.Now)); err != nil {
			return ledger.Entry{}, err
		}
	}
	return ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: enrolment}, Kind: ledger.SignOff,
		Ref: id, Salt: salt,
		Body: verdict{Skill: skill, Figure: 12.5, Findings: found,
			Evidence: ledger.Evidences(salt, evidence...)}}, err
}

// verify gives what Verify finds.
func (s *scene) verify() ledger.Report {
	s.t.Helper()
	r, err := ledger.Verify(s.t.Context(), s.DB.DB, s.centre, sources)
	require.NoError(s.t, err)
	return r
}

// forge rewrites an entry so that it is whole in itself, as somebody might who
// knows how the ledger works, and gives its new hash.
func (s *scene) forge(subject uuid.UUID, seq int, change func(content map[string]any)) []byte {
	s.t.Helper()
	var canonical []byte
	require.NoError(s.t, s.super.QueryRow(s.t.Context(),
		`SELECT canonical FROM ledger_entry WHERE subject_id = $1 AND seq = $2`, subject, seq).Scan(&canonical))
	var content map[string]any
	require.NoError(s.t, json.Unmarshal(canonical, &content))
	change(content)
	canonical, err := ledger.Canonical(content)
	require.NoError(s.t, err)
	sum := sha256.Sum256(canonical)
	s.tamper(`UPDATE ledger_entry SET canonical = $3, hash = $4 WHERE subject_id = $1 AND seq = $2`, subject,
		seq, canonical, sum[:])
	return sum[:]
}

// append forges one entry more at the end of a chain, from its last one.
func (s *scene) append(subject uuid.UUID, last int, ref uuid.UUID) {
	s.t.Helper()
	s.tamper(`INSERT INTO ledger_entry (centre_id, subject_type, subject_id, seq, kind, ref_id, at, person_id, token_id,
			canonical, prev, hash)
		SELECT centre_id, subject_type, subject_id, seq + 1, kind, $3, at, person_id, token_id, canonical, hash, hash
		FROM ledger_entry
		WHERE subject_id = $1 AND seq = $2`, subject, last, ref)
	var prev []byte
	require.NoError(s.t, s.super.QueryRow(s.t.Context(),
		`SELECT hash FROM ledger_entry WHERE subject_id = $1 AND seq = $2`, subject, last).Scan(&prev))
	s.forge(subject, last+1, func(c map[string]any) {
		c["seq"], c["ref"], c["prev"] = last+1, ref, ledger.Hash(prev)
	})
}

// moveHead makes the head agree with the last entry.
func (s *scene) moveHead(subject uuid.UUID) {
	s.t.Helper()
	s.tamper(`UPDATE ledger_head h SET seq = e.seq, hash = e.hash FROM ledger_entry e
		WHERE h.subject_id = $1 AND e.subject_id = $1
		AND e.seq = (SELECT max(seq) FROM ledger_entry WHERE subject_id = $1)`, subject)
}

package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Status is what became of one entry among many.
type Status string

// What becomes of an entry: recorded now, recorded before by the same body, or
// refused, which touches none of the others.
const (
	Recorded        Status = "recorded"
	AlreadyRecorded Status = "already_recorded"
	NotRecorded     Status = "refused"
)

// Result is what became of one entry among many.
type Result struct {
	ID       uuid.UUID
	Status   Status
	Findings finding.List
	Refusal  *fault.Fault // of a refused one
}

// InSession returns results whose findings name a session among their subjects.
func InSession(session uuid.UUID, results []Result) []Result {
	out, id := slices.Clone(results), session.String()
	for i, r := range out {
		out[i].Findings = r.Findings.InSession(id)
		if r.Refusal != nil && r.Refusal.Kind == fault.Refused {
			out[i].Refusal = r.Refusal.InSession(id)
		}
	}
	return out
}

// DigestOf returns the SHA-256 of a value's JSON: two entries with equal digests
// say the same. It panics for what has no JSON, which no entry is.
func DigestOf(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic("journal: an entry that has no JSON: " + err.Error())
	}
	sum := sha256.Sum256(b)
	return sum[:]
}

// ReplayResult answers an entry whose id was used before: already recorded when it
// says the same, refused otherwise. digests is what Digests gave; ok is false
// when the id is new.
func ReplayResult(digests map[uuid.UUID][]byte, id uuid.UUID, digest []byte) (r Result, ok bool) {
	have, ok := digests[id]
	switch {
	case !ok:
		return Result{}, false
	case bytes.Equal(have, digest):
		return Result{ID: id, Status: AlreadyRecorded}, true
	}
	return Result{ID: id, Status: NotRecorded, Refusal: fault.IDReused()}, true
}

// Used is an id that an entry has, with the digest of what it says.
type Used struct {
	ID         uuid.UUID
	BodyDigest []byte
}

// QueueUsed asks within a batch which of the ids were used before; ByID makes a
// map of the answer, as Digests gives it.
func QueueUsed(b *pgx.Batch, into *[]Used, ids []uuid.UUID) {
	pg.QueueRows(b, into, usedSQL, pgx.StrictNamedArgs{"ids": ids})
}

const usedSQL = `SELECT id, body_digest FROM entry WHERE centre_id = app_centre() AND id = ANY (@ids)`

// ByID returns the digests by their ids.
func ByID(used []Used) map[uuid.UUID][]byte {
	out := make(map[uuid.UUID][]byte, len(used))
	for _, u := range used {
		out[u.ID] = u.BodyDigest
	}
	return out
}

// RefusalOf returns the fault of an error, and reports whether it concerns one item
// alone and does not end the whole request.
func RefusalOf(err error) (*fault.Fault, bool) {
	f, ok := fault.Of(err)
	if !ok {
		return nil, false
	}
	switch f.Kind {
	case fault.Malformed, fault.Refused, fault.NotFound, fault.Conflict:
		return f, true
	}
	return nil, false
}

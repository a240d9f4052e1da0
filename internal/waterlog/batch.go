package waterlog

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/watercheck"
)

// batch is a set of entries with their detail rows, sent in one round trip.
type batch[T any] struct {
	results []journal.Result
	entries []journal.Entry
	rows    []T
}

// said is what an entry says, for its digest: the same words about another dive
// or session are another entry.
type said struct {
	Of   uuid.UUID `json:"Of"` // the session or dive that the path names
	Item any       `json:"Item"`
}

// digested is an entry of which a digest can be taken; see journal.Item.
type digested interface{ Digest(of uuid.UUID) []byte }

// collect judges entries one by one: what was recorded before is answered as
// such, what cannot be recorded is refused alone. of is what the path names.
func collect[I digested, T any](st watercheck.Snapshot, of uuid.UUID, items []I, id func(I) uuid.UUID,
	judge func(item I, at string) (journal.Entry, T, error)) (batch[T], error) {
	b := batch[T]{results: make([]journal.Result, len(items))}
	for i, item := range items {
		digest := item.Digest(of)
		if r, ok := journal.ReplayResult(st.Before, id(item), digest); ok {
			b.results[i] = r
			continue
		}
		entry, row, err := judge(item, fmt.Sprintf("/items/%d", i))
		if err != nil {
			refusal, ok := journal.RefusalOf(err)
			if !ok {
				return b, err
			}
			b.results[i] = journal.Result{ID: id(item), Status: journal.NotRecorded, Refusal: refusal}
			continue
		}
		st.Before[id(item)] = digest // should the same call bring it again
		entry.ID, entry.Digest = id(item), digest
		b.results[i] = journal.Result{ID: entry.ID, Status: journal.Recorded,
			Findings: slices.Concat(entry.Findings, entry.Also)}
		b.entries, b.rows = append(b.entries, entry), append(b.rows, row)
	}
	return b, nil
}

// write adds the entries and their details, with the next round trip; insert is an INSERT that selects
// from the rows as a JSON array, @rows.
func (b batch[T]) write(ctx context.Context, by actor.Actor, tx *pg.Tx, insert string) error {
	if len(b.entries) == 0 {
		return nil
	}
	rows, err := json.Marshal(b.rows)
	if err != nil {
		return fmt.Errorf("record entries: %w", err)
	}
	var out pgx.Batch
	if err := journal.Queue(ctx, by, tx, &out, b.entries...); err != nil {
		return err
	}
	out.Queue(insert, pgx.StrictNamedArgs{"rows": string(rows)})
	tx.SendLater(&out)
	return nil
}

package journal

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// EntryKind is what the program knows of one kind of entry. The feature that owns the
// entries makes it, in the file of the kind, with Listed or Single and with Summarised;
// package desk lists them all.
type EntryKind struct {
	Kind      Kind
	Operation string      // the single post of the kind, whose permission its entries need
	Scope     actor.Scope // that the sender of a batch needs beside the batch's own; "" for none
	Member    string      // under which the stored form has the item, never to be changed; "" of a kind that no batch brings

	item    reflect.Type // without its pointer
	enter   func(ctx context.Context, by actor.Actor, tx *pg.Tx, place uuid.UUID, items []Sent) ([]Result, error)
	summary func(b *pgx.Batch, into Summaries, ids []uuid.UUID)
}

// Sent is an entry of a batch: its id, and the item that it brings.
type Sent struct {
	ID   uuid.UUID
	Item Item
}

// Listed is a kind of which a single post takes a list. enter records the items of one
// place, a session, dive or outing, and returns one result for each.
func Listed[T any](k EntryKind, enter func(ctx context.Context, by actor.Actor, tx *pg.Tx, place uuid.UUID,
	items []T) ([]Result, error)) EntryKind {
	k.item = reflect.TypeFor[T]()
	k.enter = func(ctx context.Context, by actor.Actor, tx *pg.Tx, place uuid.UUID, sent []Sent) ([]Result, error) {
		items := make([]T, len(sent))
		for i, s := range sent {
			items[i] = *any(s.Item).(*T)
		}
		return enter(ctx, by, tx, place, items)
	}
	return k
}

// Single is a kind that is posted one at a time. enter reports what was found and whether
// the entry is new.
func Single[T any](k EntryKind, enter func(ctx context.Context, by actor.Actor, tx *pg.Tx,
	item T) (finding.List, bool, error)) EntryKind {
	k.item = reflect.TypeFor[T]()
	k.enter = func(ctx context.Context, by actor.Actor, tx *pg.Tx, _ uuid.UUID, sent []Sent) ([]Result, error) {
		out := make([]Result, len(sent))
		for i, s := range sent {
			found, created, err := enter(ctx, by, tx, *any(s.Item).(*T))
			if err != nil {
				return nil, err
			}
			out[i] = Result{ID: s.ID, Status: Recorded, Findings: found}
			if !created {
				out[i].Status = AlreadyRecorded
			}
		}
		return out, nil
	}
	return k
}

// Summarised is a kind with the sentence that its entries are shown with: sql and say are
// those of QueueSummaries.
func Summarised[T any](k EntryKind, sql string, say func(T) (uuid.UUID, string)) EntryKind {
	k.summary = func(b *pgx.Batch, into Summaries, ids []uuid.UUID) { QueueSummaries(b, into, ids, sql, say) }
	return k
}

// Item returns the type of what an entry of the kind says, without its pointer; nil of a
// kind that no batch brings.
func (k EntryKind) Item() reflect.Type { return k.item }

// Enter records entries of one place as the single post of the kind does, and returns one
// result for each. The kind is one that batches bring.
func (k EntryKind) Enter(ctx context.Context, by actor.Actor, tx *pg.Tx, place uuid.UUID,
	sent []Sent) ([]Result, error) {
	return k.enter(ctx, by, tx, place, sent)
}

// Kinds are kinds of entry, in the order in which the entries of a batch are judged: what
// others name comes first.
type Kinds []EntryKind

// Sent returns those that a batch may bring.
func (all Kinds) Sent() (out Kinds) {
	for _, k := range all {
		if k.Member != "" {
			out = append(out, k)
		}
	}
	return out
}

// Of returns the kind of that name, and whether there is one.
func (all Kinds) Of(kind Kind) (EntryKind, bool) {
	i := all.Order(kind)
	if i < 0 {
		return EntryKind{}, false
	}
	return all[i], true
}

// Order returns the place of a kind in the order of judging, -1 for none.
func (all Kinds) Order(kind Kind) int {
	return slices.IndexFunc(all, func(k EntryKind) bool { return k.Kind == kind })
}

// QueueSummaries adds to a batch the reading of what entries say, by their kinds.
func (all Kinds) QueueSummaries(b *pgx.Batch, into Summaries, entries map[Kind][]uuid.UUID) {
	for _, k := range all {
		if k.summary != nil {
			k.summary(b, into, entries[k.Kind])
		}
	}
}

// Store returns an item as it is stored: in JSON, under the member of its kind.
func (all Kinds) Store(i Item) ([]byte, error) {
	at := slices.IndexFunc(all, func(k EntryKind) bool {
		return k.item != nil && reflect.PointerTo(k.item) == reflect.TypeOf(i)
	})
	if at < 0 {
		return nil, fmt.Errorf("store entry: %T is of no kind", i)
	}
	return json.Marshal(map[string]Item{all[at].Member: i})
}

// Read returns the item that is stored in a form. What this release does not know is an
// error: nothing that was kept is passed over.
func (all Kinds) Read(text []byte, form int) (Item, error) {
	if form != Form {
		return nil, fmt.Errorf("read held entry: its form %d is none that this release reads", form)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return nil, fmt.Errorf("read held entry: %w", err)
	}
	for _, k := range all {
		said, there := members[k.Member]
		if !there || k.item == nil {
			continue
		}
		item := reflect.New(k.item).Interface().(Item)
		strict := json.NewDecoder(bytes.NewReader(said))
		strict.DisallowUnknownFields()
		if err := strict.Decode(item); err != nil {
			return nil, fmt.Errorf("read held entry: %w", err)
		}
		return item, nil
	}
	return nil, fmt.Errorf("read held entry: it is of no kind that this release knows")
}

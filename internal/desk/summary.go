package desk

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
)

// summarise writes into the headers of entries what each says, in one round trip
// for all of them.
func (s *Service) summarise(ctx context.Context, tx *pg.Tx, heads []journal.Head) error {
	var b pgx.Batch
	said, entries := journal.Summaries{}, journal.ByKind(heads)
	s.Kinds().QueueSummaries(&b, said, entries)
	if b.Len() > 0 {
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
	}
	said.Put(heads)
	return nil
}

// summariseOne is summarise for one entry.
func (s *Service) summariseOne(ctx context.Context, tx *pg.Tx, head *journal.Head) error {
	heads := []journal.Head{*head}
	err := s.summarise(ctx, tx, heads)
	*head = heads[0]
	return err
}

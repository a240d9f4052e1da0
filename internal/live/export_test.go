package live

import (
	"context"
	"time"

	"github.com/google/uuid"
)

// EventsSQL is what is asked ten times a second.
const EventsSQL = eventsSQL

// TidySQL deletes what is too old.
const TidySQL = tidySQL

// TidyNow deletes what is too old at a centre.
func (h *Hub) TidyNow(ctx context.Context, centre uuid.UUID) error { return h.tidy(ctx, centre) }

// TidyOften makes Tidy look that often.
func (h *Hub) TidyOften(pause time.Duration) { h.pace.tidy = pause }

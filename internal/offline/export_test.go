package offline

import (
	"encoding/json"
	"time"

	"tankside/internal/journal"
)

// ByClock gives the times of an item as a clock gives them that is off.
func ByClock(i journal.Item, off time.Duration) { correct(i, off) }

// Stored returns an item as it is stored.
func Stored(i journal.Item) ([]byte, error) { return json.Marshal(stored{i}) }

// ReadStored returns the item of a stored form.
func ReadStored(text []byte, form int) (journal.Item, error) { return readStored(text, form) }

// Kinds returns the kinds of entry that a batch brings.
func Kinds() (out []journal.Kind) {
	for _, k := range kinds {
		out = append(out, k.kind)
	}
	return out
}

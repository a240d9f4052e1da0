package offline

import (
	"time"

	"tankside/internal/journal"
)

// correct adds the correction of the device's clock to every time of an item.
func correct(i journal.Item, by time.Duration) {
	for _, t := range i.Times() {
		*t = t.Add(by)
	}
}

// stored is an item as a row keeps it: under the member of its kind.
type stored struct {
	item  journal.Item
	kinds journal.Kinds
}

// MarshalJSON implements json.Marshaler.
func (s stored) MarshalJSON() ([]byte, error) { return s.kinds.Store(s.item) }

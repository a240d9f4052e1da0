package ratio

import (
	"fmt"
	"slices"
)

// Select returns the books of those ids, from the built-in books and the centre's own, in that
// order. An id that is unknown or named twice is an error, and so is an own book that is not valid
// or has the id of another book.
func Select(ids []string, own []Book) ([]Book, error) {
	known := make(map[string]Book)
	for _, b := range Builtin() {
		known[b.ID] = b
	}
	for _, b := range own {
		if err := Validate(b); err != nil {
			return nil, fmt.Errorf("own rule book %q: %w", b.ID, err)
		}
		if _, taken := known[b.ID]; taken {
			return nil, fmt.Errorf("own rule book %q: another book has this id", b.ID)
		}
		known[b.ID] = b
	}
	out := make([]Book, 0, len(ids))
	seen := make(map[string]bool)
	for _, id := range ids {
		b, ok := known[id]
		switch {
		case !ok:
			return nil, fmt.Errorf("there is no rule book %q", id)
		case seen[id]:
			return nil, fmt.Errorf("rule book %q is named twice", id)
		}
		seen[id] = true
		out = append(out, b)
	}
	return out, nil
}

// Applied returns the books that a centre applies: those of the ids and the centre's own book,
// whether or not its id is among them. own is nil for none.
func Applied(ids []string, own *Book) ([]Book, error) {
	if own == nil {
		return Select(ids, nil)
	}
	if !slices.Contains(ids, own.ID) {
		ids = append(slices.Clone(ids), own.ID)
	}
	return Select(ids, []Book{*own})
}

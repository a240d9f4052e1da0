package ratio

import (
	"fmt"
	"slices"
)

// Select gives the books of those ids, of the built-in ones and of the centre's
// own, in the order asked for. It is an error to ask for a book that there is
// not, or twice for one, or to have an own book that is not valid or that takes
// the id of another.
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

// Applied gives the books that a centre applies: those of the ids, and its own,
// nil for none, whether its id is among them or not.
func Applied(ids []string, own *Book) ([]Book, error) {
	if own == nil {
		return Select(ids, nil)
	}
	if !slices.Contains(ids, own.ID) {
		ids = append(slices.Clone(ids), own.ID)
	}
	return Select(ids, []Book{*own})
}

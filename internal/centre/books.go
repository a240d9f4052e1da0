package centre

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/when"
)

// ownBook is the id of a centre's own rule book.
const ownBook = "own"

// ownBookOf returns a book as the centre's own, in the edition with that number.
func ownBookOf(b *ratio.Book, edition int64) *ratio.Book {
	if b == nil {
		return nil
	}
	own := *b
	own.ID, own.Kind, own.Status, own.Jurisdiction, own.Version = ownBook, ratio.Own, ratio.Set, "",
		strconv.FormatInt(edition, 10)
	return &own
}

// keepEdition keeps an edition of the centre's own book, by which decisions of its time
// are judged again.
func keepEdition(ctx context.Context, tx *pg.Tx, b ratio.Book) error {
	_, err := tx.Do(ctx, `INSERT INTO rule_book (centre_id, version, content, set_at)
		VALUES (app_centre(), @version, @content, @now)`,
		pgx.StrictNamedArgs{"version": b.Version, "content": b, "now": tx.Now})
	return err
}

// check returns a fault for settings that the contract's schema cannot reject.
func (c Settings) check() error {
	if err := when.CheckZone(c.TimeZone, "/time_zone"); err != nil {
		return err
	}
	for i, id := range c.RuleBooks {
		if !slices.ContainsFunc(ratio.Builtin(), func(b ratio.Book) bool { return b.ID == id }) {
			return fault.UnknownReference("rule book", fmt.Sprintf("/rule_books/%d", i))
		}
	}
	if c.OwnBook == nil {
		return nil
	}
	return flawedBook(ratio.Validate(*c.OwnBook))
}

// flawedBook returns the fault for an invalid rule book, with a finding for each flaw.
func flawedBook(err error) error {
	var flaws ratio.Flaws
	if !errors.As(err, &flaws) {
		return err
	}
	var found finding.List
	for _, f := range flaws {
		flaw := fault.Invalid("/own_rule_book"+f.Pointer, "{because}", finding.Sentence(f.Message))
		found = append(found, flaw.Findings...)
	}
	return fault.New(fault.Malformed, "invalid_request",
		"The rule book cannot be judged by; each finding says why.").With(found...)
}

func (c Settings) args() pgx.StrictNamedArgs {
	args := pgx.StrictNamedArgs{"name": c.Name, "zone": c.TimeZone, "gauge": c.GaugeUnit,
		"age": c.AgeOfMajority, "books": c.RuleBooks,
		"crew": c.CrewPapers, "student": c.StudentPapers, "months": c.MedicalMonths, "own": nil}
	if c.OwnBook != nil {
		text, err := json.Marshal(c.OwnBook)
		if err != nil {
			panic("people: a rule book that has no JSON: " + err.Error()) // check validated it
		}
		args["own"] = string(text)
	}
	return args
}

// AppliedBook is a rule book, and whether the centre applies it.
type AppliedBook struct {
	ratio.Book
	Applies bool
}

// RuleBooks lists the books that come with the service and the centre's own.
func (s *Service) RuleBooks(ctx context.Context, by actor.Actor) ([]AppliedBook, error) {
	centre, err := s.Centre(ctx, by)
	if err != nil {
		return nil, err
	}
	var out []AppliedBook
	for _, b := range ratio.Builtin() {
		out = append(out, AppliedBook{b, slices.Contains(centre.RuleBooks, b.ID)})
	}
	if centre.OwnBook != nil {
		out = append(out, AppliedBook{*centre.OwnBook, true})
	}
	return out, nil
}

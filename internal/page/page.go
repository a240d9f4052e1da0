// Package page has what a list is asked for, how many items, in which order and
// after which one, and the two pieces of SQL that follow from it.
//
// A page begins after the last item of the page before, found by its key and
// its id, so that what is added or removed meanwhile shifts nothing. The
// package must not know any table, nor how a cursor is written for the caller.
package page

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
)

// Request asks for one page.
type Request struct {
	Limit      int // at most so many items
	Descending bool
	After      *Place // nil: from the beginning
}

// Place is where a page begins: after the item with this key and id.
type Place struct {
	Key string // the value that the list is sorted by, as text
	ID  uuid.UUID
}

// At gives the last item's place when the list is sorted by a time.
func At(t time.Time, id uuid.UUID) Place {
	return Place{Key: t.UTC().Format(time.RFC3339Nano), ID: id}
}

// Column is what a list is sorted by. Its values are unique only together with
// the id.
type Column struct {
	Name string // as SQL spells it
	Type string // "text", "date" or "timestamptz"
}

// SQL gives the condition that begins the page, for a WHERE clause, and the
// ORDER BY and LIMIT that end the statement. It adds the arguments they name,
// page_key, page_id and page_limit, to args. The statement asks for one row
// more than the limit, which Cut takes away again. A place whose key is no
// value of the column is a Malformed fault: somebody made the cursor up.
func (r Request) SQL(by Column, args pgx.StrictNamedArgs) (condition, order string, err error) {
	op, dir := ">", "ASC"
	if r.Descending {
		op, dir = "<", "DESC"
	}
	args["page_limit"] = r.Limit + 1
	condition = "true"
	if r.After != nil {
		if !by.takes(r.After.Key) {
			return "", "", BadCursor()
		}
		args["page_key"], args["page_id"] = r.After.Key, r.After.ID
		condition = fmt.Sprintf("(%s, id) %s (@page_key::text::%s, @page_id::uuid)", by.Name, op, by.Type)
	}
	return condition, fmt.Sprintf("ORDER BY %s %s, id %s LIMIT @page_limit", by.Name, dir, dir), nil
}

func (c Column) takes(key string) bool {
	layout := map[string]string{"date": time.DateOnly, "timestamptz": time.RFC3339Nano}[c.Type]
	if layout == "" {
		return true
	}
	_, err := time.Parse(layout, key)
	return err == nil
}

// BadCursor says that the cursor is not one that this list has answered.
func BadCursor() *fault.Fault {
	return fault.New(fault.Malformed, "bad_cursor",
		"The cursor is not one that this list has answered with these filters and this order. Start again without it.")
}

// Cut takes the surplus row away again and gives the place where the next page
// begins, nil when there is none.
func Cut[T any](r Request, rows []T, place func(T) Place) ([]T, *Place) {
	if len(rows) <= r.Limit {
		return rows, nil
	}
	rows = rows[:r.Limit]
	next := place(rows[len(rows)-1])
	return rows, &next
}

// Package page has a request for one page of a list (how many items, in which order, after which
// item) and the two pieces of SQL for it.
//
// A page begins after the last item of the page before, found by its key and its id. Rows that are
// added or removed meanwhile therefore shift nothing. The package must not know any table, nor the
// form of a cursor.
package page

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
)

// Request is a request for one page.
type Request struct {
	Limit      int // the most items of the page
	Descending bool
	After      *Place // nil: from the beginning
}

// Place is the start of a page: after the item with this key and id.
type Place struct {
	Key string // the item's value in the sort column, as text
	ID  uuid.UUID
}

// At returns the place of an item in a list that is sorted by a time.
func At(t time.Time, id uuid.UUID) Place {
	return Place{Key: t.UTC().Format(time.RFC3339Nano), ID: id}
}

// Column is the column by which a list is sorted. Its values are unique only together with the id.
type Column struct {
	Name string // as SQL spells it
	Type string // "text", "date" or "timestamptz"
}

// SQL returns the condition that begins the page, for a WHERE clause, and the ORDER BY and LIMIT
// that end the statement. It adds their arguments, page_key, page_id and page_limit, to args. The
// statement asks for one row more than the limit, which Cut removes again. A place whose key is not
// a value of the column is a Malformed fault: the cursor is not one of ours.
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

// BadCursor returns the fault that the cursor is not one that this list has answered.
func BadCursor() *fault.Fault {
	return fault.New(fault.Malformed, "bad_cursor",
		"The cursor is not one that this list has answered with these filters and this order. Start again "+
			"without it.")
}

// Cut removes the surplus row and returns the place where the next page begins, nil when this is
// the last page.
func Cut[T any](r Request, rows []T, place func(T) Place) ([]T, *Place) {
	if len(rows) <= r.Limit {
		return rows, nil
	}
	rows = rows[:r.Limit]
	next := place(rows[len(rows)-1])
	return rows, &next
}

package page_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/page"
)

func TestTheSurplusRowBecomesTheNextPlace(t *testing.T) {
	place := func(n int) page.Place { return page.Place{Key: strconv.Itoa(n)} }
	for _, c := range []struct {
		name string
		rows []int
		want []int
		next string
	}{
		{"nothing", nil, nil, ""},
		{"less than a page", []int{1}, []int{1}, ""},
		{"just a page", []int{1, 2}, []int{1, 2}, ""},
		{"more than a page", []int{1, 2, 3}, []int{1, 2}, "2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, next := page.Cut(page.Request{Limit: 2}, c.rows, place)
			require.Equal(t, c.want, got)
			if c.next == "" {
				require.Nil(t, next)
				return
			}
			require.Equal(t, c.next, next.Key)
		})
	}
}

func TestTheConditionFollowsTheOrder(t *testing.T) {
	after := page.At(time.Date(2027, 6, 5, 7, 30, 0, 0, time.UTC), uuid.New())
	args := pgx.StrictNamedArgs{}
	where, order, err := page.Request{Limit: 50, Descending: true, After: &after}.
		SQL(page.Column{Name: "starts_at", Type: "timestamptz"}, args)
	require.NoError(t, err)
	require.Equal(t, "(starts_at, id) < (@page_key::text::timestamptz, @page_id::uuid)", where)
	require.Equal(t, "ORDER BY starts_at DESC, id DESC LIMIT @page_limit", order)
	require.Equal(t, pgx.StrictNamedArgs{"page_limit": 51, "page_key": "2027-06-05T07:30:00Z",
		"page_id": after.ID}, args)
}

func TestAKeyThatIsNoValueOfTheColumnIsRefused(t *testing.T) {
	for _, typ := range []string{"date", "timestamptz"} {
		_, _, err := page.Request{Limit: 1, After: &page.Place{Key: "'; DROP TABLE site; --"}}.
			SQL(page.Column{Name: "x", Type: typ}, pgx.StrictNamedArgs{})
		require.ErrorIs(t, err, fault.Malformed.Err(), typ)
	}
}

package httpapi

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/request"
	"tankside/internal/once"
	"tankside/internal/page"
)

// callerOf returns the caller of a request, which handlers hand to services.
func callerOf(ctx context.Context) actor.Actor { return request.Caller(ctx) }

// etag writes a version as its ETag.
func etag(version int64) string { return answer.VersionTag(version) }

// ifMatch reads the version that an edit names: nil is a VersionMissing fault,
// anything but one quoted version a Malformed one.
func ifMatch(header *string) (int64, error) {
	if header == nil || *header == "" {
		return 0, fault.NeedsVersion()
	}
	version, err := optionalMatch(header)
	return *version, err
}

// optionalMatch reads If-Match where it is not required: nil when absent.
func optionalMatch(header *string) (*int64, error) {
	if header == nil {
		return nil, nil
	}
	text, opened := strings.CutPrefix(strings.TrimSpace(*header), `"`)
	text, closed := strings.CutSuffix(text, `"`)
	text, _, _ = strings.Cut(text, ".") // what tells one answer of GET from another
	version, err := strconv.ParseInt(text, 10, 64)
	if !opened || !closed || err != nil {
		return new(int64), fault.New(fault.Malformed, "invalid_request",
			`If-Match takes one version in quotes, like "3"; the ETag of the thing is just that.`)
	}
	return &version, nil
}

// creation returns the key of a creating request: its id, or a new one, and the
// digest of what was asked.
func creation(ctx context.Context, id *uuid.UUID) once.Key {
	key := once.Key{Digest: request.CallFrom(ctx).Digest()}
	if id != nil {
		key.ID = *id
	} else {
		key.ID = uuid.Must(uuid.NewV7())
	}
	return key
}

// cursor is what next_cursor says, base64 of JSON.
type cursor struct {
	List string    `json:"l"` // which list with which filters and order
	Key  string    `json:"k"`
	ID   uuid.UUID `json:"i"`
}

const defaultLimit = 50

// paged reads a list's limit and cursor. descending is the list's order.
func paged(ctx context.Context, limit *int, after *string, descending bool) (page.Request, error) {
	p := page.Request{Limit: defaultLimit, Descending: descending}
	if limit != nil {
		p.Limit = *limit
	}
	if after == nil {
		return p, nil
	}
	var c cursor
	raw, err := base64.RawURLEncoding.DecodeString(*after)
	if err == nil {
		err = json.Unmarshal(raw, &c)
	}
	if err != nil || c.List != listOf(ctx) || !contract.Storable(c.Key) {
		return p, page.BadCursor()
	}
	p.After = &page.Place{Key: c.Key, ID: c.ID}
	return p, nil
}

// listOf names the list that is being read: its address with filters and
// order, without where the page begins and ends.
func listOf(ctx context.Context) string {
	r := request.CallFrom(ctx).Request
	q := r.URL.Query()
	q.Del("cursor")
	q.Del("limit")
	for _, values := range q {
		slices.Sort(values)
	}
	sum := sha256.Sum256([]byte(r.URL.Path + "?" + q.Encode()))
	return base64.RawURLEncoding.EncodeToString(sum[:6])
}

// next writes where the next page begins: the cursor, and the Link header.
// Both are nothing when there is none.
func next(ctx context.Context, at *page.Place) (token, link *string) {
	if at == nil {
		return nil, nil
	}
	raw, err := json.Marshal(cursor{List: listOf(ctx), Key: at.Key, ID: at.ID})
	if err != nil {
		panic(fmt.Sprintf("httpapi: a cursor of strings cannot be written: %v", err))
	}
	c := base64.RawURLEncoding.EncodeToString(raw)
	r := request.CallFrom(ctx).Request
	q := r.URL.Query()
	q.Set("cursor", c)
	l := fmt.Sprintf("<%s>; rel=\"next\"", (&url.URL{Path: r.URL.Path, RawQuery: q.Encode()}).String())
	return &c, &l
}

// descending reports whether a sort parameter has a minus.
func descending(sort *string) bool { return sort != nil && strings.HasPrefix(*sort, "-") }

// listPage is one page of a list that a service reads whole.
type listPage[T any] struct {
	items  []T
	cursor nullable.Nullable[string] // where the next page begins, null on the last one
	link   *string                   // the Link header that says the same
}

// pageOf returns the page of a list that a service reads whole, since one session, outing,
// person or enrolment bounds it. key identifies an item; the fault is page.BadCursor where
// the item that ended the page before is no longer in the list.
func pageOf[T any](ctx context.Context, limit *int, after *string, all []T,
	key func(T) string) (out listPage[T], err error) {
	p, err := paged(ctx, limit, after, false)
	if err != nil {
		return out, err
	}
	if p.After != nil {
		last := slices.IndexFunc(all, func(x T) bool { return key(x) == p.After.Key })
		if last < 0 {
			return out, page.BadCursor()
		}
		all = all[last+1:]
	}
	items, end := page.Cut(p, all, func(x T) page.Place { return page.Place{Key: key(x)} })
	cursor, link := next(ctx, end)
	return listPage[T]{items, orNull(cursor), link}, nil
}

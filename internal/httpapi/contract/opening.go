package contract

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/fault"
)

// Opened returns the operation that a ticket for this path opens, nil for none.
func (c *Contract) Opened(path string) *Operation {
	for _, op := range c.Operations {
		if op.Ticket && matchesPath(op.Path, path) {
			return op
		}
	}
	return nil
}

// matchesPath reports whether a path is one of a template: /v1/sites/{id}.
func matchesPath(template, path string) bool {
	want, have := strings.Split(template, "/"), strings.Split(path, "/")
	return slices.EqualFunc(want, have,
		func(w, h string) bool { return w == h || strings.HasPrefix(w, "{") && h != "" })
}

// CheckAddress returns the fault of an address that would break the contract, so that no ticket is issued for
// one that opens nothing.
func (c *Contract) CheckAddress(op *Operation, u *url.URL) error {
	r, err := http.NewRequest(http.MethodGet, u.String(), http.NoBody)
	if err != nil {
		return fault.Invalid("/address", "Give a path of this API with its query, beginning with /v1/.")
	}
	found := unlisted(r, op)
	if ok, errs := c.validator.ValidateHttpRequestSyncWithPathItem(r, op.item, op.Path); !ok {
		found = append(found, translate(errs)...)
	}
	for name, values := range u.Query() { // the validator leaves the ids of a list to the binding
		for _, v := range values {
			if _, err := uuid.Parse(v); err != nil && strings.HasSuffix(name, "_id") {
				found = append(found, InvalidValue.Say("{parameter} wants ids, which are UUIDs.", name))
			}
		}
	}
	if len(found) == 0 {
		return nil
	}
	return fault.Invalid("/address", "The address breaks the contract and would open nothing: {because}",
		found[0].Message)
}

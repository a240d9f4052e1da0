package httpapi

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/actor"
	"tankside/internal/fault"
)

// ticketParameter is the query parameter that has a ticket.
const ticketParameter = "ticket"

// ofOpening are the parameters that say how an address is opened and not what
// is read there: a ticket is for the address without them.
var ofOpening = []string{ticketParameter, "after"}

// CreateTicket implements POST /v1/tickets.
func (s *server) CreateTicket(ctx context.Context,
	r api.CreateTicketRequestObject) (api.CreateTicketResponseObject, error) {
	u, err := url.Parse(r.Body.Address)
	if err == nil {
		_, err = url.ParseQuery(u.RawQuery)
	}
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || u.Fragment != "" ||
		u.Path != u.EscapedPath() {
		return nil, fault.Invalid("/address", "Give a path of this API with its query, beginning with /v1/.")
	}
	op := s.contract.openable(u.Path)
	if op == nil {
		return nil, fault.Invalid("/address",
			"No operation at this address takes a ticket; those that do list it under security in the contract.")
	}
	if op.Scope != "" && !callerOf(ctx).May(actor.Scope(op.Scope)) {
		return nil, fault.MissingScope(op.Scope)
	}
	if err := s.contract.opens(op, u); err != nil {
		return nil, err
	}
	ticket, err := s.Access.IssueTicket(ctx, callerOf(ctx), ticketAddress(u), op.stream)
	if err != nil {
		return nil, err
	}
	q := u.Query()
	q.Set(ticketParameter, ticket.Secret)
	return api.CreateTicket201JSONResponse{Address: u.Path + "?" + q.Encode(),
		ExpiresAt: ticket.ExpiresAt.UTC()}, nil
}

// opens finds what of the contract an address would break, so that no ticket is
// issued for one that opens nothing.
func (c *contract) opens(op *operation, u *url.URL) error {
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
				found = append(found, invalidValue.Of(name+" wants ids, which are UUIDs."))
			}
		}
	}
	if len(found) == 0 {
		return nil
	}
	return fault.Invalid("/address", "The address breaks the contract and would open nothing: "+
		found[0].Message)
}

// ticketAddress is what a ticket is for: the path, and what of the query says
// what is read, in one order.
func ticketAddress(u *url.URL) string {
	q := u.Query()
	for _, name := range ofOpening {
		q.Del(name)
	}
	return (&url.URL{Path: u.Path, RawQuery: q.Encode()}).String()
}

// withoutTicket takes the ticket out of a request that it has opened: nothing
// after this sees it, writes it into a link or could log it.
func withoutTicket(r *http.Request, op *operation) *http.Request {
	if !op.ticket {
		return r
	}
	q := r.URL.Query()
	q.Del(ticketParameter)
	r.URL = &url.URL{Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: q.Encode()}
	r.RequestURI = r.URL.RequestURI()
	return r
}

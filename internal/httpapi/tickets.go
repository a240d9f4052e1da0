package httpapi

import (
	"context"
	"net/http"
	"net/url"

	"tankside/api"
	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
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
	op := s.contract.Opened(u.Path)
	if op == nil {
		return nil, fault.Invalid("/address",
			"No operation at this address takes a ticket; those that do list it under security in the contract.")
	}
	if op.Scope != "" && !callerOf(ctx).May(actor.Scope(op.Scope)) {
		return nil, fault.MissingScope(op.Scope)
	}
	if err := s.contract.CheckAddress(op, u); err != nil {
		return nil, err
	}
	ticket, err := s.Access.IssueTicket(ctx, callerOf(ctx), ticketAddress(u), op.Stream)
	if err != nil {
		return nil, err
	}
	q := u.Query()
	q.Set(ticketParameter, ticket.Secret)
	return api.CreateTicket201JSONResponse{Address: u.Path + "?" + q.Encode(),
		ExpiresAt: ticket.ExpiresAt.UTC()}, nil
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
func withoutTicket(r *http.Request, op *contract.Operation) *http.Request {
	if !op.Ticket {
		return r
	}
	q := r.URL.Query()
	q.Del(ticketParameter)
	r.URL = &url.URL{Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: q.Encode()}
	r.RequestURI = r.URL.RequestURI()
	return r
}

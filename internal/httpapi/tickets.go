package httpapi

import (
	"context"
	"net/url"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/gate"
)

// ticketHandlers serves tickets.
type ticketHandlers struct {
	access   *access.Service
	contract *contract.Contract
}

// CreateTicket implements POST /v1/tickets.
func (h ticketHandlers) CreateTicket(ctx context.Context,
	r api.CreateTicketRequestObject) (api.CreateTicketResponseObject, error) {
	u, err := url.Parse(r.Body.Address)
	if err == nil {
		_, err = url.ParseQuery(u.RawQuery)
	}
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || u.Fragment != "" ||
		u.Path != u.EscapedPath() {
		return nil, fault.Invalid("/address", "Give a path of this API with its query, beginning with /v1/.")
	}
	op := h.contract.Opened(u.Path)
	if op == nil {
		return nil, fault.Invalid("/address",
			"No operation at this address takes a ticket; those that do list it under security in the contract.")
	}
	if op.Scope != "" && !callerOf(ctx).May(actor.Scope(op.Scope)) {
		return nil, fault.MissingScope(op.Scope)
	}
	if err := h.contract.CheckAddress(op, u); err != nil {
		return nil, err
	}
	ticket, err := h.access.IssueTicket(ctx, callerOf(ctx), gate.TicketAddress(u), op.Stream)
	if err != nil {
		return nil, err
	}
	q := u.Query()
	q.Set(gate.TicketParameter, ticket.Secret)
	return api.CreateTicket201JSONResponse{Address: u.Path + "?" + q.Encode(),
		ExpiresAt: ticket.ExpiresAt.UTC()}, nil
}

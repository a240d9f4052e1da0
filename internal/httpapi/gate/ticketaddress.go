package gate

import (
	"net/http"
	"net/url"

	"tankside/internal/httpapi/contract"
)

// TicketParameter is the query parameter that has a ticket.
const TicketParameter = "ticket"

// ofOpening are the parameters that say how an address is opened and not what
// is read there: a ticket is for the address without them.
var ofOpening = []string{TicketParameter, "after"}

// TicketAddress is what a ticket is for: the path, and what of the query says
// what is read, in one order.
func TicketAddress(u *url.URL) string {
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
	q.Del(TicketParameter)
	r.URL = &url.URL{Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: q.Encode()}
	r.RequestURI = r.URL.RequestURI()
	return r
}

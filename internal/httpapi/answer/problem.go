// Package answer writes how a request is answered: problems and their pages, ETags and 304, the decision beside
// a result, and what is withheld from programs that may not read papers.
//
// It owns the statuses, and the page of each code. It must not know an operation's handler or a service.
package answer

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/form"
	"tankside/internal/httpapi/request"
)

// Statuses are the statuses by kind of fault. Nothing else in the program
// knows one.
var Statuses = map[fault.Kind]int{
	fault.Internal:        http.StatusInternalServerError,
	fault.Malformed:       http.StatusBadRequest,
	fault.Unauthenticated: http.StatusUnauthorized,
	fault.Forbidden:       http.StatusForbidden,
	fault.NotFound:        http.StatusNotFound,
	fault.Conflict:        http.StatusConflict,
	fault.Stale:           http.StatusPreconditionFailed,
	fault.TooLarge:        http.StatusRequestEntityTooLarge,
	fault.Unsupported:     http.StatusUnsupportedMediaType,
	fault.Refused:         http.StatusUnprocessableEntity,
	fault.VersionMissing:  http.StatusPreconditionRequired,
	fault.TooMany:         http.StatusTooManyRequests,
	fault.Unavailable:     http.StatusServiceUnavailable,
	fault.Gone:            http.StatusGone,
}

// VersionTag returns the ETag of a thing that is edited: its version, quoted.
func VersionTag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }

// How many seconds a caller waits, our choice: after 503, and for one of the
// token's streams to end. A limiter says by itself how long.
const (
	RetryAfter       = "2"
	retryAfterStream = "15"
)

// retryAfterCode is how many seconds a caller waits who met another bound, our
// choice: a ticket lives a minute; what waits is cured by people.
var retryAfterCode = map[string]string{"too_many_tickets": "60", "too_many_waiting": "60",
	"too_many_tokens": "3600"}

// Errors answers what went wrong.
type Errors struct {
	Log      *slog.Logger
	Troubles *Troubles
	Withheld Withheld
}

// Answer is Echo's HTTPErrorHandler: every error leaves as a problem document
// (RFC 9457), and nothing internal leaves with it.
func (s Errors) Answer(err error, c echo.Context) {
	f, status := FaultOf(err)
	switch {
	case f.Kind == fault.Unavailable && !errors.Is(err, context.Canceled):
		s.Troubles.say(c.Request().Context(), f.Code, "request could not be served",
			slog.String("request_id", request.ID(c)), slog.String("route", c.Path()), slog.String("error",
				err.Error()))
	case status >= http.StatusInternalServerError && !errors.Is(err, context.Canceled):
		s.Log.LogAttrs(c.Request().Context(), slog.LevelError, "request failed",
			slog.String("request_id", request.ID(c)), slog.String("route", c.Path()), slog.String("error",
				err.Error()))
	}
	if c.Response().Committed {
		return
	}
	h := c.Response().Header()
	for _, name := range []string{"ETag", "Location", "Link"} {
		h.Del(name)
	}
	switch f.Kind {
	case fault.Stale:
		h.Set("ETag", VersionTag(f.Version))
	case fault.Unauthenticated:
		h.Set("WWW-Authenticate", `Bearer realm="tankside"`)
	case fault.TooMany:
		if h.Get("Retry-After") == "" {
			h.Set("Retry-After", cmp.Or(retryAfterCode[f.Code], retryAfterStream))
		}
	case fault.Unavailable:
		h.Set("Retry-After", RetryAfter)
	}
	if id := c.Param("id"); f.Code == "not_found" && id != "" {
		f = f.Param("id", id)
	}
	f = refusalAt(c, f)
	h.Set("Content-Type", "application/problem+json")
	h.Set("Cache-Control", "no-store")
	c.Response().WriteHeader(status)
	_ = s.writeProblem(c, Problem(f, status, request.ID(c))) // the caller has gone away
}

// refusalAt returns a fault as an operation refuses with it: what the rules found under the address of
// a session names that session.
func refusalAt(c echo.Context, f *fault.Fault) *fault.Fault {
	if f.Kind == fault.Refused && strings.HasPrefix(c.Path(), "/v1/sessions/:id") {
		return f.InSession(c.Param("id"))
	}
	return f
}

// writeProblem writes a problem as the caller may see it.
func (s Errors) writeProblem(c echo.Context, p api.Problem) error {
	text, err := json.Marshal(p)
	if err == nil && WithheldFrom(c.Request().Context()) {
		text, err = s.Withheld.neutral(text)
	}
	if err != nil {
		return err
	}
	_, err = c.Response().Write(append(text, '\n'))
	return err
}

// FaultOf finds the fault in an error. What is no fault is a defect of ours,
// except what Echo says of itself.
func FaultOf(err error) (*fault.Fault, int) {
	var f *fault.Fault
	var e *echo.HTTPError
	switch {
	case errors.As(err, &f):
	case errors.As(err, &e):
		f = echoFault(e)
		if f.Kind != fault.Internal {
			return f, e.Code
		}
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		f = fault.New(fault.Unavailable, "unavailable", "It took too long. Try again in a moment.")
	default:
		f = fault.New(fault.Internal, "internal", "")
	}
	if f.Kind == fault.Internal {
		f = fault.New(fault.Internal, "internal",
			"Something went wrong on our side. Nothing was changed by this request; "+
				"name its Request-Id when you ask for help.")
	}
	return f, Statuses[f.Kind]
}

// echoFault returns the fault for what the router and the generated binding say.
func echoFault(e *echo.HTTPError) *fault.Fault {
	switch e.Code {
	case http.StatusNotFound:
		return fault.New(fault.NotFound, "no_such_address",
			"There is nothing at this address. The contract at /openapi.yaml lists every address.")
	case http.StatusMethodNotAllowed:
		return fault.New(fault.NotFound, "method_not_allowed",
			"This address does not take this method; Allow lists those that it takes.")
	case http.StatusBadRequest:
		return fault.New(fault.Malformed, "invalid_request", "The request cannot be read.").Because(e)
	}
	return fault.New(fault.Internal, "internal", "").Because(e)
}

// Problem returns a fault as the problem document of a request or of one item of it.
func Problem(f *fault.Fault, status int, requestID string) api.Problem {
	return api.Problem{
		Type:     "/problems/" + f.Code,
		Code:     f.Code,
		Title:    titleOf(f.Code),
		Status:   status,
		Detail:   f.Message,
		Params:   parameters(f.Params),
		Instance: "urn:uuid:" + requestID,
		Findings: form.Findings(f.Findings),
	}
}

// parameters returns the parameters of a message; they are never null.
func parameters(of map[string]any) map[string]any {
	if of == nil {
		return map[string]any{}
	}
	return of
}

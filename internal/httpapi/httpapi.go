// Package httpapi is the edge: it implements the server that is generated from
// the contract, admits requests, and turns what services answer into HTTP.
//
// Handlers translate and nothing else: contract to Go, one call, Go to
// contract. The package must not know SQL, and no rule: what is allowed is
// decided by the services. It is the only one that knows a status (problem.go).
package httpapi

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/assessment"
	"tankside/internal/briefings"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/diveday"
	"tankside/internal/finding"
	"tankside/internal/gaswatch"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/gate"
	"tankside/internal/live"
	"tankside/internal/offline"
	"tankside/internal/people"
	"tankside/internal/plans"
	"tankside/internal/review"
	"tankside/internal/sessions"
	"tankside/internal/waterlog"
)

// Services are the features that handlers call, on one handle on the database.
type Services struct {
	Access     *access.Service
	Centre     *centre.Service
	People     *people.Service
	Courses    *courses.Service
	Sessions   *sessions.Service
	Waterlog   *waterlog.Service
	Gaswatch   *gaswatch.Service
	Assessment *assessment.Service
	Plans      *plans.Service
	Briefings  *briefings.Service
	DiveDay    *diveday.Reader
	Desk       *desk.Service
	Offline    *offline.Service
	Review     *review.Service
}

// Options are what the edge needs from the rest of the program.
type Options struct {
	Services
	DryRun Services // on a handle whose transactions roll back (pg.DB.DryRun)
	Live   *live.Hub

	Rules   []finding.Rule              // of every rule package, for /v1/rules
	Ready   func(context.Context) error // nil when requests can be served
	Fits    func(context.Context) error // nil when the schema is one that this release runs on; asked for each request
	Log     *slog.Logger
	Origins []string    // that browsers may call from; none: no CORS headers at all
	Limits  gate.Limits // how many requests are served in a minute

	Deadline time.Duration // how long an operation may take; 0 is Deadline

	now     func() time.Time                         // tests move it; only the limits go by it
	quiet   time.Duration                            // tests wait less long for a comment; 0 is quietAfter
	inspect func(operation string, answer any) error // tests look at answers before they are written
}

// server is what surrounds the handlers: gates before them, and what is done to each of
// their answers.
type server struct {
	Options
	contract *contract.Contract

	gate     *gate.Gate
	withheld answer.Withheld
}

// New assembles the server. It fails only when the embedded contract is
// broken, which a test would have found.
func New(o Options) (http.Handler, error) {
	c, err := contract.Read()
	if err != nil {
		return nil, err
	}
	s := &server{Options: o, contract: c}
	s.Rules = append(contract.Rules(), o.Rules...)
	s.withheld = answer.NewWithheld(s.Rules)
	s.gate, err = gate.New(gate.Options{Access: o.Access, Heard: o.Live.Heard, Ready: o.Ready, Fits: o.Fits, Log: o.Log,
		Origins: o.Origins, Limits: o.Limits, Deadline: o.Deadline, Now: o.now}, c)
	if err != nil {
		return nil, err
	}
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.Binder = gate.Binder{}
	e.HTTPErrorHandler = answer.Errors{Log: o.Log, Troubles: answer.NewTroubles(o.Log), Withheld: s.withheld}.Answer
	e.IPExtractor = gate.CallerAddress(o.Limits.Proxies)
	e.Use(s.gate.Around()...)
	if err := s.mountPages(e); err != nil {
		return nil, err
	}
	h := newHandlers(o, c, s.gate, s.Rules, &s.withheld)
	api.RegisterHandlersWithOptions(e, api.NewStrictHandler(h, []api.StrictMiddlewareFunc{s.answered}),
		api.RegisterHandlersOptions{OperationMiddlewares: s.gates()})
	return gate.WithHead(e), nil
}

// gates returns what stands before the handler of each operation of the contract,
// outermost first, so that none can be forgotten.
func (s *server) gates() map[string][]echo.MiddlewareFunc {
	all := map[string][]echo.MiddlewareFunc{}
	for _, op := range s.contract.Operations {
		gates := s.gate.Before(op)
		if op.Conditional {
			gates = append(gates, answer.WhenChanged(op))
		}
		gates = append(gates, s.withheld.Around(op))
		if op.DryRun {
			gates = append(gates, answer.Decided)
		}
		all[op.ID] = gates
	}
	return all
}

// answered sees each answer between handler and wire. A handler that gives
// neither an answer nor an error has a defect that must not look like success.
func (s *server) answered(next api.StrictHandlerFunc, operation string) api.StrictHandlerFunc {
	return func(c echo.Context, request any) (any, error) {
		answer, err := next(c, request)
		if err == nil && answer == nil {
			err = errNoAnswer
		}
		if err == nil && s.inspect != nil {
			err = s.inspect(operation, answer)
		}
		return answer, err
	}
}

var errNoAnswer = errors.New("httpapi: the handler gave neither an answer nor an error")

// Package app assembles the program: database, services, edge, and their start and
// stop. Tests that go from end to end start the same App as main.
//
// It must not know a rule or a table.
package app

import (
	"cmp"
	"context"
	"log/slog"
	"net/http"
	"os"
	"slices"

	"github.com/jackc/pgx/v5"

	"tankside/internal/access"
	"tankside/internal/assessment"
	"tankside/internal/briefings"
	"tankside/internal/centre"
	"tankside/internal/config"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/diveday"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/httpapi"
	"tankside/internal/httpapi/gate"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/live"
	"tankside/internal/nostop"
	"tankside/internal/offline"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/pg/migrate"
	"tankside/internal/plans"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/review"
	"tankside/internal/roster"
	"tankside/internal/sessions"
	"tankside/internal/signal"
	"tankside/internal/syllabus"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// Services are the features on one handle on the database.
type Services = httpapi.Services

// NewServices returns the features on a database.
func NewServices(db *pg.DB) Services {
	s := Services{Access: access.New(db), Centre: centre.New(db), People: people.New(db),
		Courses: courses.New(db), DiveDay: diveday.New(db)}
	s.Desk = desk.New(db, s.Centre, s.People, s.Courses)
	s.Offline = offline.New(db, s.Desk)
	s.Sessions, s.Plans, s.Briefings = s.Desk.Sessions(), s.Desk.Plans(), s.Desk.Briefings()
	s.Waterlog, s.Gaswatch, s.Assessment = s.Desk.Waterlog(), s.Desk.Gaswatch(), s.Desk.Assessment()
	s.Review = review.New(db, s.Assessment)
	return s
}

// NewHub returns the hub of the live view on the features. streams is the most that one
// token may have open, ofCentre the most that one centre may; 0 is the default.
func NewHub(db *pg.DB, s Services, streams, ofCentre int, log *slog.Logger) *live.Hub {
	words := httpapi.LiveWords{Sessions: s.Sessions, Gaswatch: s.Gaswatch, Kinds: s.Desk.Kinds()}
	return live.New(live.Options{DB: db, Tell: words.Tell, Stand: words.Stand, Holders: s.Access.Holders,
		Streams: streams, CentreStreams: ofCentre, Log: log})
}

// Rules returns every rule that a finding can come from, except the edge's own.
func Rules() []finding.Rule {
	return slices.Concat(
		journal.Rules(), access.Rules(), people.Rules(), courses.Rules(), sessions.Rules(),
		watercheck.Rules(), assessment.Rules(),
		gasplan.Rules(), diveday.Rules(), plans.Rules(), briefings.Rules(), readiness.Rules(),
		ratio.Rules(), roster.Rules(), syllabus.Rules(), signal.Rules(), gas.Rules(), nostop.Rules(),
	)
}

// Ledger returns the tables with the decided rows of all features.
func Ledger() ledger.Sources {
	return ledger.Join(journal.Ledger, people.Ledger, sessions.Ledger, waterview.Ledger, assessment.Ledger,
		plans.Ledger)
}

// App is the service, ready to run.
type App struct {
	cfg     config.Config
	db      *pg.DB
	behind  *background // nil where this instance does no background work
	hub     *live.Hub
	handler http.Handler
	log     *slog.Logger
	schema  standing
}

// New connects to the database and assembles the service. With an owner's address it
// migrates first and closes that connection again. It does not listen yet.
func New(ctx context.Context, cfg config.Config, log *slog.Logger) (*App, error) {
	if cfg.Owner != "" {
		if err := migrate.UpTold(ctx, string(cfg.Owner), log); err != nil {
			return nil, err
		}
	}
	return assemble(ctx, cfg, log, nil)
}

// NewTraced is New for a migrated database, with a tracer that sees every statement.
func NewTraced(ctx context.Context, cfg config.Config, log *slog.Logger,
	tracer pgx.QueryTracer) (*App, error) {
	return assemble(ctx, cfg, log, tracer)
}

func assemble(ctx context.Context, cfg config.Config, log *slog.Logger,
	tracer pgx.QueryTracer) (*App, error) {
	db, err := pg.OpenTraced(ctx, string(cfg.Database), tracer)
	if err != nil {
		return nil, err
	}
	log = log.With("instance", instance(cfg), "release", Release())
	a := &App{cfg: cfg, db: db, log: log}
	s := NewServices(db)
	s.Access.Bound(access.Bounds{Tickets: cfg.TicketLimit, CentreTickets: cfg.CentreTicketLimit,
		Tokens: cfg.HolderTokenLimit, CentreTokens: cfg.CentreTokenLimit})
	s.Offline.Bound(offline.Bounds{Held: cfg.HeldLimit, CentreHeld: cfg.CentreHeldLimit})
	a.hub = NewHub(db, s, cmp.Or(cfg.StreamLimit, config.StreamLimit), cfg.CentreStreamLimit, log)
	a.handler, err = httpapi.New(httpapi.Options{Services: s, DryRun: NewServices(db.DryRun()), Live: a.hub,
		Rules: Rules(), Ready: a.ready,
		Fits: a.fits, Log: log, Origins: cfg.Origins, Deadline: cfg.Deadline,
		Limits: gate.Limits{Token: cmp.Or(cfg.TokenLimit, config.TokenLimit),
			Address: cmp.Or(cfg.AddressLimit, config.AddressLimit), Proxies: cfg.Proxies}})
	if err != nil {
		db.Close()
		return nil, err
	}
	if db.Pooled() {
		log.Info("the database is reached by way of a pooler")
	}
	if a.behind, err = openBackground(ctx, cfg, log); err != nil {
		db.Close()
		return nil, err
	}
	if err := a.fits(ctx); err != nil {
		log.Warn("not ready", "error", err.Error())
	}
	return a, nil
}

// instance returns the name of this instance in the log.
func instance(cfg config.Config) string {
	name, err := os.Hostname()
	if err != nil {
		name = "unnamed"
	}
	return cmp.Or(cfg.Instance, name)
}

// Handler returns the whole HTTP surface.
func (a *App) Handler() http.Handler { return a.handler }

// Close ends the live listeners and closes the pool. Serve does it too.
func (a *App) Close() {
	a.hub.Stop()
	a.behind.close()
	a.db.Close()
}

// Package demo starts everything on this machine, a private PostgreSQL included, and
// plays an invented centre's weekend course through the public HTTP API, told as a
// person would tell it.
//
// It owns the scenario and its words. It must not know a table, and calls no service but
// over HTTP; only the centre itself is created as the operator does it.
package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"time"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/desk"
	"tankside/internal/pg"
	"tankside/internal/pg/localpg"
	"tankside/internal/pg/migrate"
	"tankside/internal/ratio"
)

// Options are the options of Run.
type Options struct {
	Once    bool     // end after the story
	Dir     string   // the data folder of the private PostgreSQL; "" is localpg.DefaultDir
	Listen  string   // the service's address; "" is 127.0.0.1:8080, or any free port when that is taken
	Origins []string // web origins that browsers may call from
	Out     io.Writer
	Errs    io.Writer
}

// ErrStory is the error of a story with an unexpected result.
var ErrStory = errors.New("the story did not go as expected")

// Run starts PostgreSQL and the service, plays the story, and serves on until ctx is
// over, unless Once is set.
func Run(ctx context.Context, o Options) error {
	fmt.Fprintln(o.Out, "Starting a private PostgreSQL …")
	server, err := localpg.Start(ctx, localpg.Options{Keep: true, Dir: o.Dir, Progress: o.Errs})
	if err != nil {
		return err
	}
	defer func() { _ = server.Stop() }()
	cfg := config.Config{Database: config.Secret(server.URL(localpg.App, localpg.Database)),
		Owner:  config.Secret(server.URL(localpg.Owner, localpg.Database)),
		Worker: config.Secret(server.URL(localpg.Worker, localpg.Database)),
		// a weekend in seconds
		Origins: o.Origins, Grace: 10 * time.Second, LogLevel: slog.LevelWarn, TokenLimit: 1e6,
		AddressLimit: 1e6}
	a, err := app.New(ctx, cfg, slog.New(slog.NewTextHandler(o.Errs,
		&slog.HandlerOptions{Level: cfg.LogLevel})))
	if err != nil {
		return err
	}
	listener, err := listen(ctx, o.Listen)
	if err != nil {
		a.Close()
		return err
	}
	serving, stop := context.WithCancel(ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(serving, listener) }()
	told, err := tell(ctx, o, string(cfg.Database), "http://"+listener.Addr().String())
	if err == nil {
		err = migrate.Analyze(ctx, string(cfg.Owner))
	}
	if err != nil || o.Once {
		stop()
		return errors.Join(err, <-ended)
	}
	told.invite(o.Out)
	select {
	case err = <-ended:
	case <-server.Done():
		stop()
		err = errors.Join(errors.New("the private PostgreSQL ended by itself; nothing that was acknowledged "+
			"is lost: start again"), <-ended)
	}
	return err
}

// listen listens on the address, or, without one, on the default or any free port of
// this machine when that is taken.
func listen(ctx context.Context, address string) (net.Listener, error) {
	var lc net.ListenConfig
	if address != "" {
		return lc.Listen(ctx, "tcp", address)
	}
	l, err := lc.Listen(ctx, "tcp", "127.0.0.1:8080")
	if err != nil {
		l, err = lc.Listen(ctx, "tcp", "127.0.0.1:0")
	}
	return l, err
}

// tell creates a new demo centre as the operator does, and plays the story.
func tell(ctx context.Context, o Options, database, base string) (*story, error) {
	sc, err := readScenario()
	if err != nil {
		return nil, err
	}
	db, err := pg.Open(ctx, database)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	s := newStory(ctx, o.Out, base, sc)
	if err := s.create(db); err != nil {
		return nil, err
	}
	if err := s.play(); err != nil {
		return s, err
	}
	return s, s.verify(ctx, db)
}

// create creates the centre and its manager.
func (s *story) create(db *pg.DB) error {
	c := s.scenario.centre
	birth, err := time.Parse(time.DateOnly, c.Manager.BirthOn)
	if err != nil {
		return err
	}
	n := desk.NewCentre{Demo: true, Manager: c.Manager.Name, ManagerBirthOn: birth}
	n.Name, n.TimeZone, n.GaugeUnit = c.Name, c.TimeZone, c.GaugeUnit
	n.AgeOfMajority, n.RuleBooks = c.AgeOfMajority, ratio.GeneralPractice()
	made, first, err := desk.CreateCentre(s.ctx, db, n)
	if err != nil {
		return err
	}
	s.centre = made.ID
	s.add(firstName(c.Manager.Name), *first.PersonID, first.Secret)
	return nil
}

package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"tankside/internal/config"
	"tankside/internal/httpapi/gate"
	"tankside/internal/pg"
)

// Time-outs of the server, our choice: long enough for a phone at sea, short for a
// client that holds connections open.
const (
	headerTimeout = 10 * time.Second
	readTimeout   = 60 * time.Second
	writeTimeout  = 60 * time.Second
	idleTimeout   = 120 * time.Second

	// maxHeader is the longest first line and fields of a request, in bytes.
	maxHeader = 32 << 10
)

// The pauses between attempts to reach the database at the start, our choice.
const (
	firstTry = time.Second
	lastTry  = 10 * time.Second
)

// Run listens at once and serves as soon as the database can: until then, and while it
// migrates, it is alive and not ready. When ctx is over it first reports that it is not
// ready, for as long as configured, then lets requests under way finish within the
// grace, and closes the database.
func Run(ctx context.Context, cfg config.Config, log *slog.Logger) error {
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	return RunOn(ctx, cfg, log, listener)
}

// RunOn is Run on an existing listener.
func RunOn(ctx context.Context, cfg config.Config, log *slog.Logger, listener net.Listener) error {
	f := &front{waiting: gate.Waiting(log)}
	return f.serve(ctx, cfg, log, listener,
		func(ctx context.Context) (*App, error) { return patiently(ctx, cfg, log) })
}

// Serve is RunOn for an assembled service.
func (a *App) Serve(ctx context.Context, listener net.Listener) error {
	f := &front{}
	f.app.Store(a)
	return f.serve(ctx, a.cfg, a.log, listener, func(context.Context) (*App, error) { return a, nil })
}

// patiently is New that retries while the database is away.
func patiently(ctx context.Context, cfg config.Config, log *slog.Logger) (*App, error) {
	for pause := firstTry; ; pause = min(2*pause, lastTry) {
		a, err := New(ctx, cfg, log)
		if err == nil || !pg.Unavailable(err) || ctx.Err() != nil {
			return a, err
		}
		log.Warn("the database cannot be used yet; it is tried again", "error", err.Error(),
			"after", pause.String())
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(pause):
		}
	}
}

// front answers requests from the moment of listening to the last answer.
type front struct {
	waiting http.Handler // until there is a service
	app     atomic.Pointer[App]
	leaving atomic.Bool
}

// ServeHTTP passes a request to the service, or answers in its place.
func (f *front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a := f.app.Load()
	switch {
	case f.leaving.Load() && r.URL.Path == "/readyz":
		gate.Leaving(w, r)
	case a == nil:
		f.waiting.ServeHTTP(w, r)
	default:
		a.handler.ServeHTTP(w, r)
	}
}

// serve answers on a listener until ctx is over or begin fails.
func (f *front) serve(ctx context.Context, cfg config.Config, log *slog.Logger, listener net.Listener,
	begin func(context.Context) (*App, error)) error {
	server := &http.Server{Handler: f, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout,
		WriteTimeout: writeTimeout,
		IdleTimeout:  idleTimeout, MaxHeaderBytes: maxHeader,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	server.RegisterOnShutdown(f.endStreams) // they would last as long as the grace
	failed := make(chan error, 2)
	working, stop := context.WithCancel(ctx)
	var work sync.WaitGroup
	defer f.close()
	defer work.Wait()
	defer stop()
	work.Go(func() {
		a, err := begin(working)
		if err != nil {
			failed <- err
			return
		}
		f.app.Store(a)
		log.Info("serving")
		work.Go(func() { a.behind.run(working) })
		a.hub.Tidy(working)
	})
	log.Info("listening", "address", listener.Addr().String())
	go func() { failed <- serveTLS(server, cfg, listener) }()
	select {
	case err := <-failed:
		if ctx.Err() == nil {
			return errors.Join(fmt.Errorf("serve: %w", err), server.Close())
		}
	case <-ctx.Done():
	}
	return f.leave(context.WithoutCancel(ctx), cfg, log, server)
}

// leave stops the server: unready first, then closed to new connections, then ended.
func (f *front) leave(ctx context.Context, cfg config.Config, log *slog.Logger, server *http.Server) error {
	log.Info("stopping", "drain", cfg.Drain.String(), "grace", cfg.Grace.String())
	if f.leaving.Store(true); f.app.Load() != nil {
		time.Sleep(cfg.Drain)
	}
	last, cancel := context.WithTimeout(ctx, cfg.Grace)
	defer cancel()
	err := server.Shutdown(last)
	if errors.Is(err, context.DeadlineExceeded) {
		err = errors.Join(fmt.Errorf("requests were still under way after %s", cfg.Grace), server.Close())
	}
	return err
}

func (f *front) endStreams() {
	if a := f.app.Load(); a != nil {
		a.hub.Stop()
	}
}

func (f *front) close() {
	if a := f.app.Load(); a != nil {
		a.Close()
	}
}

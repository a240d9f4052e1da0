// Package bench measures the service under a bounded load on this machine: gas checks,
// sign-offs and gas plans written, and an instructor's day read, over HTTP on loopback;
// and the delay of the live view. Each rate is printed beside a yardstick taken in the
// same run on the same server: the traced statements of that request, run by pgbench.
//
// It owns the load and the yardstick. It must not know a table: everything is set up
// through the API.
package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/app"
	"tankside/internal/centre"
	"tankside/internal/config"
	"tankside/internal/desk"
	"tankside/internal/pg"
	"tankside/internal/pg/localpg"
	"tankside/internal/pg/migrate"
	"tankside/internal/ratio"
)

// Options are the amounts to measure.
type Options struct {
	Clients  []int         // how many at once
	Rounds   int           // how often service and yardstick alternate
	Requests int           // sign-offs in each round; four times as many of the others, which use nothing up
	Watchers int           // listeners of the live view, on each of the sessions
	Watching time.Duration // how long gas checks arrive
	On       Addresses     // of an existing database; none: a private one is started
	Out      io.Writer
	Errs     io.Writer
}

// Addresses are those of an empty database: as the service reaches it, perhaps through
// a pooler, and directly as the owner, as the role of background work ("" for none) and
// as the service's role for the yardstick.
type Addresses struct{ Service, Owner, Worker, Yardstick string }

// Full returns the options for figures that are stated.
func Full() Options {
	return Options{Clients: []int{1, 8, 32}, Rounds: 5, Requests: 320, Watchers: 50,
		Watching: 20 * time.Second}
}

// Smoke returns the options for a few seconds of load, to show that it works.
func Smoke() Options {
	return Options{Clients: []int{1, 4}, Rounds: 1, Requests: 16, Watchers: 5, Watching: 2 * time.Second}
}

// pool is the number of connections of the service and of the yardstick: enough for the
// most clients.
const pool = 32

// job is one kind of request, with its yardstick.
type job struct {
	name    string
	request func(n int) error // n counts the requests of the job over all rounds
	times   int               // requests for each one of Options.Requests
	script  string            // the yardstick
	uses    bool              // each request uses up an enrolment
	used    int               // requests so far, of service and yardstick together
	stays   []uuid.UUID       // counted ids that are the same in each of its requests
}

// share returns the number of requests of each client, warm included.
func (j *job) share(o Options, clients int) int { return max(o.Requests*j.times/clients, 1) + warm }

// warm is how many requests each client makes before its clock runs, so that its
// connection and its prepared statements exist.
const warm = 2

// Run measures and prints a table, each line as soon as it is measured.
func Run(ctx context.Context, o Options) error {
	pgbench, err := program("pgbench")
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("/var/tmp", "tankside-bench-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }()
	if err := os.Chmod(dir, 0o755); err != nil {
		return err
	}
	if o.On.Service == "" {
		server, err := localpg.Start(ctx, localpg.Options{Keep: true, Dir: filepath.Join(dir, "pg"),
			Progress: o.Errs})
		if err != nil {
			return err
		}
		defer func() { _ = server.Stop() }()
		url := server.URL(localpg.App, localpg.Database)
		o.On = Addresses{Service: url, Owner: server.URL(localpg.Owner, localpg.Database),
			Worker: server.URL(localpg.Worker, localpg.Database), Yardstick: url}
	}
	s, stop, err := serve(ctx, o.On)
	if err != nil {
		return err
	}
	defer stop()
	jobs, err := s.prepare(o)
	if err != nil {
		return err
	}
	if err := migrate.Analyze(ctx, o.On.Owner); err != nil {
		return err
	}
	// First, while the sessions have no more gas checks than a session has.
	if err := s.measureLive(ctx, o); err != nil {
		return err
	}
	y := yardstick{pgbench: pgbench, dir: dir, url: o.On.Yardstick}
	if err := measure(ctx, o, jobs, y); err != nil {
		return err
	}
	if err := s.compareBatches(o); err != nil {
		return err
	}
	return s.measureWaking(o)
}

// serve starts the service, with a tracer, and a second instance beside it, on a centre
// of its own.
func serve(ctx context.Context, on Addresses) (*testCentre, func(), error) {
	url := on.Service
	first, err := app.New(ctx, config.Config{Database: config.Secret(url), Owner: config.Secret(on.Owner)},
		slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, nil, err
	}
	first.Close()
	t := &tracer{}
	var stops []func()
	stop := func() {
		for _, s := range stops {
			s()
		}
	}
	var bases []string
	for _, with := range []pgx.QueryTracer{t, nil} {
		base, s, err := instance(ctx, url, on.Worker, with)
		if err != nil {
			stop()
			return nil, nil, err
		}
		bases, stops = append(bases, base), append(stops, s)
	}
	db, err := pg.Open(ctx, url)
	if err != nil {
		stop()
		return nil, nil, err
	}
	defer db.Close()
	centre, manager, err := desk.CreateCentre(ctx, db, desk.NewCentre{
		Settings: centre.Settings{Name: "Load", TimeZone: "UTC", GaugeUnit: "bar",
			AgeOfMajority: 18, RuleBooks: ratio.GeneralPractice()},
		Demo: true, Manager: "Mara Manager", ManagerBirthOn: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		stop()
		return nil, nil, err
	}
	return newTestCentre(ctx, bases, centre.ID, *manager.PersonID, manager.Secret, t), stop, nil
}

// instance starts one instance of the service and returns its address.
func instance(ctx context.Context, url, worker string,
	tracer pgx.QueryTracer) (base string, stop func(), err error) {
	separator := "?"
	if strings.Contains(url, "?") {
		separator = "&"
	}
	cfg := config.Config{Database: config.Secret(url + separator + "pool_max_conns=" + strconv.Itoa(pool)),
		Worker: config.Secret(worker), Grace: 5 * time.Second,
		// a load run measures the service, not its limits
		TokenLimit: 1e9, AddressLimit: 1e9, StreamLimit: 1e9}
	a, err := app.NewTraced(ctx, cfg, slog.New(slog.DiscardHandler), tracer)
	if err != nil {
		return "", nil, err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		a.Close()
		return "", nil, err
	}
	serving, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		if err := a.Serve(serving, l); err != nil {
			slog.ErrorContext(ctx, "serving under load", "err", err)
		}
	}()
	return "http://" + l.Addr().String(), func() {
		cancel()
		<-ended
	}, nil
}

// program returns the path of a program of PostgreSQL.
func program(name string) (string, error) {
	if p, err := exec.LookPath(name); err == nil {
		return p, nil
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err != nil || len(found) == 0 {
		return "", fmt.Errorf("%s is not installed; on Debian it comes with: apt-get install postgresql",
			name)
	}
	return found[len(found)-1], nil
}

// result has the rates of one job with one number of clients, by round.
type result struct{ service, yardstick, ratio []float64 }

// measure prints one line for each job and number of clients.
func measure(ctx context.Context, o Options, jobs []*job, y yardstick) error {
	fmt.Fprintf(o.Out, "%d rounds, %d CPUs; service and load share this machine\n\n", o.Rounds,
		runtime.NumCPU())
	fmt.Fprintf(o.Out, "%-22s %7s %11s %11s %13s %6s %7s\n", "what", "clients", "service /s", "pgbench /s",
		"ratio: median", "lowest", "highest")
	for _, j := range jobs {
		for _, clients := range o.Clients {
			var r result
			for range o.Rounds {
				service, err := load(ctx, j, clients, j.share(o, clients))
				if err != nil {
					return fmt.Errorf("%s: %w", j.name, err)
				}
				stick, err := y.run(ctx, j, clients, j.share(o, clients))
				if err != nil {
					return fmt.Errorf("%s: %w", j.name, err)
				}
				r.service, r.yardstick, r.ratio = append(r.service, service), append(r.yardstick, stick),
					append(r.ratio, service/stick)
			}
			fmt.Fprintf(o.Out, "%-22s %7d %11.0f %11.0f %13.2f %6.2f %7.2f\n", j.name, clients,
				median(r.service), median(r.yardstick), median(r.ratio),
				slices.Min(r.ratio), slices.Max(r.ratio))
		}
	}
	return nil
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

// load makes requests from each of the clients and returns the number answered in a
// second.
func load(ctx context.Context, j *job, clients, each int) (float64, error) {
	first := j.used
	j.used += clients * each
	var wg sync.WaitGroup
	errs, ends := make([]error, clients), make([][]time.Time, clients)
	for c := range clients {
		wg.Go(func() {
			for i := range each {
				if errs[c] = j.request(first + c*each + i); errs[c] != nil || ctx.Err() != nil {
					return
				}
				ends[c] = append(ends[c], time.Now())
			}
		})
	}
	wg.Wait()
	return rate(ends), errors.Join(append(errs, ctx.Err())...)
}

// rate returns the requests a second of clients, from the ends of their requests: the
// sum of each client's rate after warm.
func rate(ends [][]time.Time) (sum float64) {
	for _, all := range ends {
		if len(all) > warm {
			sum += float64(len(all)-warm) / all[len(all)-1].Sub(all[warm-1]).Seconds()
		}
	}
	return sum
}

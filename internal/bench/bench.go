// Package bench measures the service under a bounded load on this machine: gas
// checks and sign-offs written, and an instructor's day read, over HTTP on
// loopback. Each figure stands beside a yardstick taken in the same run on the
// same server: the traced statements of the very request, run by pgbench.
//
// It owns the load and the yardstick. It must not know a table: everything is
// set up through the API.
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
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"text/tabwriter"
	"time"

	"github.com/google/uuid"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/pg/localpg"
	"tankside/internal/ratio"
)

// Options say how much is measured.
type Options struct {
	Clients  []int // how many at once
	Rounds   int   // service and yardstick alternate so often
	Requests int   // in each round
	Out      io.Writer
	Errs     io.Writer
}

// Full is what is measured for figures to be stated; Smoke only shows that it
// works.
func Full() Options { return Options{Clients: []int{1, 8, 32}, Rounds: 5, Requests: 320} }

// Smoke is a few seconds of load.
func Smoke() Options { return Options{Clients: []int{1, 4}, Rounds: 1, Requests: 16} }

// pool is how many connections the service and the yardstick have: enough for
// the most clients.
const pool = 32

// job is one kind of request, with what its yardstick is.
type job struct {
	name    string
	request func(n int) error // n counts the requests of the job over all rounds
	sql     string            // the yardstick's script
	used    int               // requests so far, of service and yardstick together
	signs   bool              // each request uses up an enrolment
}

// Run measures and prints a table.
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
	server, err := localpg.Start(ctx, localpg.Options{Keep: true, Dir: filepath.Join(dir, "pg"), Progress: o.Errs})
	if err != nil {
		return err
	}
	defer func() { _ = server.Stop() }()
	url := server.URL(localpg.App, localpg.Database)
	s, stop, err := serve(ctx, server, url)
	if err != nil {
		return err
	}
	defer stop()
	jobs, err := s.prepare(o)
	if err != nil {
		return err
	}
	y := yardstick{pgbench: pgbench, dir: dir, url: url}
	return measure(ctx, o, jobs, y)
}

// serve starts the service with a tracer, on a centre of its own.
func serve(ctx context.Context, server *localpg.Server, url string) (*scene, func(), error) {
	t := &tracer{}
	first, err := app.New(ctx, config.Config{Database: config.Secret(url), Owner: config.Secret(server.URL(localpg.Owner, localpg.Database))}, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, nil, err
	}
	first.Close()
	separator := "?"
	if strings.Contains(url, "?") {
		separator = "&"
	}
	cfg := config.Config{Database: config.Secret(url + separator + "pool_max_conns=" + strconv.Itoa(pool)), Grace: 5 * time.Second}
	a, err := app.NewTraced(ctx, cfg, slog.New(slog.DiscardHandler), t)
	if err != nil {
		return nil, nil, err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return nil, nil, err
	}
	serving, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(serving, l) }()
	stop := func() {
		cancel()
		_ = <-ended
	}
	db, err := pg.Open(ctx, url)
	if err != nil {
		stop()
		return nil, nil, err
	}
	defer db.Close()
	centre, manager, err := people.New(db).CreateCentre(ctx, people.NewCentre{
		CentreSettings: people.CentreSettings{Name: "Load", TimeZone: "UTC", GaugeUnit: "bar", AgeOfMajority: 18, RuleBooks: ratio.GeneralPractice()},
		Demo:           true, Manager: "Mara Manager", ManagerBirthOn: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		stop()
		return nil, nil, err
	}
	return newScene(ctx, "http://"+l.Addr().String(), centre.ID, *manager.PersonID, manager.Secret, t), stop, nil
}

// program finds a program of PostgreSQL.
func program(name string) (string, error) {
	if p, err := exec.LookPath(name); err == nil {
		return p, nil
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err != nil || len(found) == 0 {
		return "", fmt.Errorf("%s is not installed; on Debian it comes with: apt-get install postgresql", name)
	}
	return found[len(found)-1], nil
}

// result is what came of one job with so many clients.
type result struct{ service, yardstick, ratio []float64 }

func measure(ctx context.Context, o Options, jobs []*job, y yardstick) error {
	table := tabwriter.NewWriter(o.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "what\tclients\tservice /s\tpgbench /s\tratio: median\tlowest\thighest\n")
	for _, j := range jobs {
		for _, clients := range o.Clients {
			var r result
			for range o.Rounds {
				service, err := load(ctx, j, clients, o.Requests)
				if err != nil {
					return fmt.Errorf("%s: %w", j.name, err)
				}
				stick, err := y.run(ctx, j, clients, o.Requests)
				if err != nil {
					return fmt.Errorf("%s: %w", j.name, err)
				}
				r.service, r.yardstick, r.ratio = append(r.service, service), append(r.yardstick, stick), append(r.ratio, service/stick)
			}
			fmt.Fprintf(table, "%s\t%d\t%.0f\t%.0f\t%.2f\t%.2f\t%.2f\n", j.name, clients, median(r.service), median(r.yardstick), median(r.ratio),
				slices.Min(r.ratio), slices.Max(r.ratio))
		}
	}
	return table.Flush()
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

// load makes requests from so many clients and gives how many a second were
// answered.
func load(ctx context.Context, j *job, clients, requests int) (float64, error) {
	each := max(requests/clients, 1)
	first := j.used
	j.used += clients * each
	var wg sync.WaitGroup
	errs := make([]error, clients)
	began := time.Now()
	for c := range clients {
		wg.Go(func() {
			for i := range each {
				if errs[c] = j.request(first + c*each + i); errs[c] != nil || ctx.Err() != nil {
					return
				}
			}
		})
	}
	wg.Wait()
	took := time.Since(began)
	return float64(clients*each) / took.Seconds(), errors.Join(append(errs, ctx.Err())...)
}

// yardstick runs scripts with pgbench.
type yardstick struct{ pgbench, dir, url string }

var tps = regexp.MustCompile(`tps = ([0-9.]+) \(without initial connection time\)`)

func (y yardstick) run(ctx context.Context, j *job, clients, requests int) (float64, error) {
	each := max(requests/clients, 1)
	file := filepath.Join(y.dir, "script.sql")
	if err := os.WriteFile(file, []byte(j.sql), 0o600); err != nil {
		return 0, err
	}
	base := j.used
	j.used += clients * each
	run := exec.CommandContext(ctx, y.pgbench, "-n", "-M", "prepared", "-c", strconv.Itoa(clients), "-j", strconv.Itoa(min(clients, 2)),
		"-t", strconv.Itoa(each), "-D", "i=-1", "-D", fmt.Sprintf("base=%d", base), "-D", fmt.Sprintf("each=%d", each), "-f", file, y.url)
	run.Env = append(os.Environ(), "PGOPTIONS=-c plan_cache_mode="+pg.PlanCacheMode)
	out, err := run.CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("pgbench: %w\n%s", err, out)
	}
	m := tps.FindSubmatch(out)
	if m == nil || strings.Contains(string(out), "number of failed transactions: ") && !strings.Contains(string(out), "number of failed transactions: 0 ") {
		return 0, fmt.Errorf("pgbench did not say how many a second:\n%s", out)
	}
	return strconv.ParseFloat(string(m[1]), 64)
}

// enrolmentPrefix begins the ids of the enrolments that are signed for; the
// rest counts them.
const enrolmentPrefix = "0199aaaa-0000-7000-8000-"

func enrolmentID(n int) uuid.UUID { return uuid.MustParse(fmt.Sprintf("%s%012x", enrolmentPrefix, n)) }

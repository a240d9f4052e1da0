package cli

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/desk"
	"tankside/internal/once"
	"tankside/internal/pg/migrate"
	"tankside/internal/ratio"
	"tankside/internal/wording"
	"tankside/migrations"
)

// serve runs the service until it is told to stop.
func serve(ctx context.Context, c Call) int {
	if _, ok := c.flags("serve", "Runs the service. All settings come from the environment.", nil); !ok {
		return Misused
	}
	cfg, err := config.Read(c.Getenv)
	if err := errors.Join(err, config.Unknown(c.Env)); err != nil {
		return c.fail(err)
	}
	if err := app.Run(ctx, cfg, slog.New(slog.NewJSONHandler(c.Errs,
		&slog.HandlerOptions{Level: cfg.LogLevel}))); err != nil {
		return c.fail(err)
	}
	return Done
}

// flags parses the arguments of a command and returns those that are not flags.
func (c Call) flags(name, about string, define func(*flag.FlagSet)) (rest []string, ok bool) {
	f := flag.NewFlagSet("tankside "+name, flag.ContinueOnError)
	f.SetOutput(c.Errs)
	f.Usage = func() {
		fmt.Fprintf(c.Errs, "tankside %s: %s\n", name, about)
		f.PrintDefaults()
	}
	if define != nil {
		define(f)
	}
	if err := f.Parse(c.Args); err != nil {
		return nil, false
	}
	return f.Args(), true
}

// owner returns the address of the database as the role that owns the tables.
func (c Call) owner() (string, error) {
	if v := c.Getenv("TANKSIDE_OWNER_DATABASE_URL"); v != "" {
		return v, nil
	}
	return "", errors.New("TANKSIDE_OWNER_DATABASE_URL is not set; want the address of the database as the " +
		"role tankside_owner")
}

const aboutMigrate = `brings the database schema up or down, as the role in TANKSIDE_OWNER_DATABASE_URL.
  up        to the newest version
  down      one version back; refused where records would be lost, unless
            -destroy-records DATABASE names the database (it goes before "down")
  version   says which version the schema has
  force N   notes version N after a repair by hand; runs nothing`

func migrateSchema(ctx context.Context, c Call) int {
	var destroy string
	args, ok := c.flags("migrate", aboutMigrate, func(f *flag.FlagSet) {
		f.StringVar(&destroy, "destroy-records", "", "the `database` whose records may be lost")
	})
	if !ok || len(args) == 0 {
		fmt.Fprintln(c.Errs, "tankside migrate:", aboutMigrate)
		return Misused
	}
	url, err := c.owner()
	if err != nil {
		return c.fail(err)
	}
	switch {
	case args[0] == "up" && len(args) == 1:
		err = migrate.UpTold(ctx, url, slog.New(slog.NewTextHandler(c.Errs, nil)))
	case args[0] == "down" && len(args) == 1:
		err = migrate.DownUnlessLost(ctx, url, destroy)
	case args[0] == "version" && len(args) == 1:
	case args[0] == "force" && len(args) == 2:
		n, bad := strconv.ParseUint(args[1], 10, 31)
		if bad != nil {
			fmt.Fprintf(c.Errs, "tankside migrate force: %q is no version\n", args[1])
			return Misused
		}
		err = migrate.Force(ctx, url, uint(n))
	default:
		fmt.Fprintln(c.Errs, "tankside migrate:", aboutMigrate)
		return Misused
	}
	if err != nil {
		return c.fail(err)
	}
	version, dirty, err := migrate.Version(ctx, url)
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "schema version %d of %d", version, migrations.Latest())
	if dirty {
		fmt.Fprint(c.Out, ", left half-way by a failed migration: repair it, then run \"tankside "+
			"migrate force N\"")
	}
	fmt.Fprintln(c.Out)
	return Done
}

// access opens the database as the application role and returns the service of tokens
// on it.
func (c Call) access(ctx context.Context) (*access.Service, func(), error) {
	db, err := c.app(ctx)
	if err != nil {
		return nil, nil, err
	}
	return access.New(db), db.Close, nil
}

// centres creates a centre with its first manager.
func centres(ctx context.Context, c Call) int {
	if len(c.Args) > 0 && c.Args[0] == "list" {
		c.Args = c.Args[1:]
		return listCentres(ctx, c)
	}
	if len(c.Args) > 0 && c.Args[0] == "create" {
		c.Args = c.Args[1:]
	}
	var n desk.NewCentre
	n.RuleBooks = ratio.GeneralPractice()
	var birth string
	_, ok := c.flags("centre create",
		"creates a dive centre with its first manager, and prints the manager's token once.",
		func(f *flag.FlagSet) {
			f.StringVar(&n.Name, "name", "", "the centre's `name`")
			f.StringVar(&n.TimeZone, "zone", "", "its IANA time `zone`, like Europe/Lisbon")
			f.StringVar(&n.GaugeUnit, "gauge", "bar", "what gauges there show: bar or psi")
			f.IntVar(&n.AgeOfMajority, "majority", 18, "the age of majority in `years`")
			f.StringVar(&n.Manager, "manager", "", "the first manager's `name`")
			f.StringVar(&birth, "manager-birth", "", "the manager's birth `date`, like 1984-02-29")
			f.BoolVar(&n.Demo, "demo", false, "a demo centre, whose clock can be set")
		})
	if !ok {
		return Misused
	}
	born, err := time.Parse(time.DateOnly, birth)
	if err != nil || n.Name == "" || n.Manager == "" || n.GaugeUnit != "bar" && n.GaugeUnit != "psi" {
		fmt.Fprintln(c.Errs, "tankside centre create: want -name, -zone, "+
			"-manager and -manager-birth (a date like 1984-02-29); -gauge is bar or psi")
		return Misused
	}
	if wrong := cmp.Or(wording.OneLine(n.Name), wording.OneLine(n.Manager)); wrong != "" {
		fmt.Fprintln(c.Errs, "tankside centre create: -name and -manager are names of one line.", wrong)
		return Misused
	}
	n.ManagerBirthOn = born
	db, err := c.app(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	made, issued, err := desk.CreateCentre(ctx, db, n)
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "centre   %s\nmanager  %s\ntoken    %s\nexpires  %s\nThe token is shown this once.\n",
		made.ID, *issued.PersonID, issued.Secret, issued.ExpiresAt.UTC().Format(time.RFC3339))
	return Done
}

const aboutToken = `issues, revokes or lists tokens, as the operator.
  issue -centre ID (-person ID | -program NAME) [-scopes A,B] [-days N]
  revoke -centre ID -token ID
  list -centre ID`

// token issues and revokes tokens on behalf of the operator.
func token(ctx context.Context, c Call) int {
	var centre, person, id, program, scopes string
	var days int
	verb := ""
	if len(c.Args) > 0 {
		verb, c.Args = c.Args[0], c.Args[1:]
	}
	_, ok := c.flags("token", aboutToken, func(f *flag.FlagSet) {
		f.StringVar(&centre, "centre", "", "the centre's `id`")
		f.StringVar(&person, "person", "", "the holder's `id`")
		f.StringVar(&program, "program", "", "the `name` of the program that holds it")
		f.StringVar(&scopes, "scopes", "",
			"`scopes` separated by commas; all that the holder may have when empty")
		f.IntVar(&days, "days", 90, "how many `days` it lives")
		f.StringVar(&id, "token", "", "the `id` of the token to revoke")
	})
	at, err := uuid.Parse(centre)
	if !ok || err != nil || verb != "issue" && verb != "revoke" && verb != "list" {
		fmt.Fprintln(c.Errs, "tankside token:", aboutToken)
		return Misused
	}
	s, done, err := c.access(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer done()
	// the operator acts as a manager
	by := actor.Actor{Centre: at, Roles: []actor.Role{actor.Manager}}
	switch verb {
	case "list":
		return c.tokens(ctx, by, s)
	case "revoke":
		return c.revoke(ctx, by, s, id)
	}
	return c.issue(ctx, by, s, person, program, scopes, days)
}

func (c Call) issue(ctx context.Context, by actor.Actor, s *access.Service, person, program, scopes string,
	days int) int {
	n := access.NewToken{Key: once.New(), Label: "issued by the operator",
		ExpiresAt: new(time.Now().AddDate(0, 0, days))}
	var err error
	if wrong := wording.OneLine(program); wrong != "" {
		fmt.Fprintln(c.Errs, "tankside token issue: -program is a name of one line.", wrong)
		return Misused
	}
	if program != "" {
		n.Program, n.Scopes = &program, access.MostScopes([]actor.Role{actor.Program})
	} else {
		holder, bad := uuid.Parse(person)
		if bad != nil {
			fmt.Fprintln(c.Errs, "tankside token issue: want -person with an id, or -program with a name")
			return Misused
		}
		n.PersonID = &holder
		if n.Scopes, err = s.ScopesOf(ctx, by, holder); err != nil {
			return c.fail(err)
		}
	}
	if scopes != "" {
		n.Scopes = nil
		for s := range strings.SplitSeq(scopes, ",") {
			n.Scopes = append(n.Scopes, actor.Scope(strings.TrimSpace(s)))
		}
	}
	issued, _, err := s.IssueToken(ctx, by, n)
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "token id  %s\ntoken     %s\nexpires   %s\nThe token is shown this once.\n",
		issued.ID, issued.Secret, issued.ExpiresAt.UTC().Format(time.RFC3339))
	return Done
}

func (c Call) revoke(ctx context.Context, by actor.Actor, s *access.Service, id string) int {
	which, err := uuid.Parse(id)
	if err != nil {
		fmt.Fprintln(c.Errs, "tankside token revoke: want -token with the id of the token; "+
			"its secret is not an id")
		return Misused
	}
	revoked, err := s.RevokeToken(ctx, by, which)
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "token id  %s\nrevoked   %s\n", revoked.ID,
		revoked.RevokedAt.UTC().Format(time.RFC3339))
	return Done
}

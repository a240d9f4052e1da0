package cli

import (
	"context"
	"flag"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/centre"
	"tankside/internal/config"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/migrations"
)

// version prints the release, and the schema that it needs.
func version(_ context.Context, c Call) int {
	if _, ok := c.flags("version", "says which release this is, and which schema it needs.", nil); !ok {
		return Misused
	}
	fmt.Fprintf(c.Out, "tankside %s\nschema   %d\n", app.Release(), migrations.Latest())
	return Done
}

// app opens the database as the application role, through the pooler that
// TANKSIDE_POOLER names or that is found.
func (c Call) app(ctx context.Context) (*pg.DB, error) {
	url, err := config.Database(c.Getenv)
	if err != nil {
		return nil, err
	}
	return pg.Open(ctx, string(url))
}

const aboutEpoch = `begins a new epoch of positions:
  renew   after a copy of a cluster's disks was put in its place
Whoever comes with an updated_token or a stream's position from before reads anew. A
restored dump, a recovery and a failover are noticed by the service itself.`

// epoch renews the epoch of positions.
func epoch(ctx context.Context, c Call) int {
	args, ok := c.flags("epoch", aboutEpoch, nil)
	if !ok || len(args) != 1 || args[0] != "renew" {
		fmt.Fprintln(c.Errs, "tankside epoch:", aboutEpoch)
		return Misused
	}
	db, err := c.app(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	if err := db.RenewEpoch(ctx); err != nil {
		return c.fail(err)
	}
	fmt.Fprintln(c.Out, "A new epoch has begun. Positions from before are refused, and callers read anew.")
	return Done
}

// listCentres lists the centres of the database.
func listCentres(ctx context.Context, c Call) int {
	if _, ok := c.flags("centre list",
		"lists the centres of the database, as the role in TANKSIDE_OWNER_DATABASE_URL.", nil); !ok {
		return Misused
	}
	url, err := c.owner()
	if err != nil {
		return c.fail(err)
	}
	centres, err := centre.List(ctx, url)
	if err != nil {
		return c.fail(err)
	}
	w := tabwriter.NewWriter(c.Out, 0, 0, 2, ' ', 0)
	for _, x := range centres {
		kind := ""
		if x.Demo {
			kind = "demo"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", x.ID, x.CreatedAt.UTC().Format(time.DateOnly), x.Name, kind)
	}
	_ = w.Flush()
	return Done
}

// tokens lists the tokens of a centre. Their secrets are not kept.
func (c Call) tokens(ctx context.Context, by actor.Actor, s *access.Service) int {
	w := tabwriter.NewWriter(c.Out, 0, 0, 2, ' ', 0)
	for p := (page.Request{Limit: 200}); ; {
		list, next, err := s.Tokens(ctx, by, nil, p)
		if err != nil {
			return c.fail(err)
		}
		for _, t := range list {
			holder, state := "", "expires "+t.ExpiresAt.UTC().Format(time.RFC3339)
			switch {
			case t.PersonID != nil:
				holder = "person " + t.PersonID.String()
			case t.Program != nil:
				holder = "program " + *t.Program
			}
			if t.RevokedAt != nil {
				state = "revoked " + t.RevokedAt.UTC().Format(time.RFC3339)
			}
			scopes := make([]string, len(t.Scopes))
			for i, x := range t.Scopes {
				scopes[i] = string(x)
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", t.ID, holder, state, strings.Join(scopes, ","))
		}
		if p.After = next; next == nil {
			_ = w.Flush()
			return Done
		}
	}
}

// everyCentre defines the flag for all centres.
func everyCentre(f *flag.FlagSet, all *bool) {
	f.BoolVar(all, "all", false, "every centre of the database, as TANKSIDE_OWNER_DATABASE_URL lists them")
}

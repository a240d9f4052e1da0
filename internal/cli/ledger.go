package cli

import (
	"context"
	"errors"
	"flag"
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

const aboutLedger = `verifies a centre's ledger: every chain, and every decided row against its entry.
  verify -centre ID
The exit status is 1 when anything is not as it was written.`

// verifyLedger walks a centre's chains and names whatever was changed.
func verifyLedger(ctx context.Context, c Call) int {
	var centre string
	verb := ""
	if len(c.Args) > 0 {
		verb, c.Args = c.Args[0], c.Args[1:]
	}
	_, ok := c.flags("ledger", aboutLedger, func(f *flag.FlagSet) { f.StringVar(&centre, "centre", "", "the centre's `id`") })
	id, err := uuid.Parse(centre)
	if !ok || err != nil || verb != "verify" {
		fmt.Fprintln(c.Errs, "tankside ledger:", aboutLedger)
		return Misused
	}
	url := c.Getenv("TANKSIDE_DATABASE_URL")
	if url == "" {
		return c.fail(errors.New("TANKSIDE_DATABASE_URL is not set; want the address of the database as the role tankside_app"))
	}
	db, err := pg.Open(ctx, url)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	report, err := ledger.Verify(ctx, db, id, app.Ledger())
	if err != nil {
		return c.fail(err)
	}
	for _, p := range report.Problems {
		fmt.Fprintln(c.Out, p)
	}
	fmt.Fprintf(c.Out, "%d chains with %d entries; %d things are not as they were written\n", report.Chains, report.Entries, len(report.Problems))
	if !report.Whole() {
		return Refused
	}
	return Done
}

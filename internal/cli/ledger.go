package cli

import (
	"context"
	"flag"
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/app"
	"tankside/internal/centre"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

const aboutLedger = `verifies a centre's ledger: every chain, and every decided row against its entry.
  verify (-centre ID | -all)
With -all every centre, as the role in TANKSIDE_OWNER_DATABASE_URL lists them.
The exit status is 1 when anything is not as it was written.`

// verifyLedger checks a centre's chains and prints every change.
func verifyLedger(ctx context.Context, c Call) int {
	var named, verb string
	var all bool
	if len(c.Args) > 0 {
		verb, c.Args = c.Args[0], c.Args[1:]
	}
	_, ok := c.flags("ledger", aboutLedger, func(f *flag.FlagSet) {
		f.StringVar(&named, "centre", "", "the centre's `id`")
		everyCentre(f, &all)
	})
	id, err := uuid.Parse(named)
	if !ok || verb != "verify" || all == (err == nil) {
		fmt.Fprintln(c.Errs, "tankside ledger:", aboutLedger)
		return Misused
	}
	db, err := c.app(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	if !all {
		return c.verify(ctx, db, id)
	}
	url, err := c.owner()
	if err != nil {
		return c.fail(err)
	}
	centres, err := centre.List(ctx, url)
	if err != nil {
		return c.fail(err)
	}
	status := Done
	for _, x := range centres {
		fmt.Fprintf(c.Out, "%s %s: ", x.ID, x.Name)
		status = max(status, c.verify(ctx, db, x.ID))
	}
	fmt.Fprintf(c.Out, "%d centres verified\n", len(centres))
	return status
}

// verify reports on one centre's ledger.
func (c Call) verify(ctx context.Context, db *pg.DB, centre uuid.UUID) int {
	report, err := ledger.Verify(ctx, db, centre, app.Ledger())
	if err != nil {
		return c.fail(err)
	}
	for _, p := range report.Problems {
		fmt.Fprintln(c.Out, p)
	}
	fmt.Fprintf(c.Out, "%d chains with %d entries; %d things are not as they were written\n", report.Chains,
		report.Entries, len(report.Problems))
	if !report.Whole() {
		return Refused
	}
	return Done
}

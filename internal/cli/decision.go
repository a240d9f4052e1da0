package cli

import (
	"context"
	"flag"
	"fmt"
	"time"

	"github.com/google/uuid"

	"tankside/internal/app"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/review"
)

const aboutDecision = `judges decisions of a centre again, by what they were judged on: the
records, ages and editions of rule books of their day.
  judge -centre ID DECISION
  judge -centre ID -all [-from DATE] [-to DATE]
It prints what was found then and what is found now, and each difference with the
reason. With -all, of a period in UTC, the last day included, only what differs. The
exit status is 1 when anything differs or could not be judged again.`

// decisionFlags are the arguments of the command, unparsed.
type decisionFlags struct {
	centre, from, to string
	all              bool
}

// decisions judges decisions again and prints what came out.
func decisions(ctx context.Context, c Call) int {
	var d decisionFlags
	verb := ""
	if len(c.Args) > 0 {
		verb, c.Args = c.Args[0], c.Args[1:]
	}
	rest, ok := c.flags("decision", aboutDecision, func(f *flag.FlagSet) {
		f.StringVar(&d.centre, "centre", "", "the centre's `id`")
		f.BoolVar(&d.all, "all", false, "every decision of the period")
		f.StringVar(&d.from, "from", "0001-01-01", "the first `date` of the period")
		f.StringVar(&d.to, "to", "9999-12-31", "its last `date`")
	})
	centre, err := uuid.Parse(d.centre)
	from, to, periodErr := d.period()
	if !ok || verb != "judge" || err != nil || periodErr != nil || d.all != (len(rest) == 0) || len(rest) > 1 {
		fmt.Fprintln(c.Errs, "tankside decision:", aboutDecision)
		return Misused
	}
	db, err := c.app(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	if d.all {
		return c.judgeAll(ctx, db, centre, from, to)
	}
	id, err := uuid.Parse(rest[0])
	if err != nil {
		fmt.Fprintln(c.Errs, "tankside decision:", aboutDecision)
		return Misused
	}
	r, err := app.NewServices(db).Review.Judge(ctx, centre, id)
	if err != nil {
		return c.fail(err)
	}
	return c.printJudged(r)
}

// period returns the first moment of the period, and the first after it.
func (d decisionFlags) period() (from, to time.Time, err error) {
	if from, err = time.Parse(time.DateOnly, d.from); err != nil {
		return from, to, err
	}
	to, err = time.Parse(time.DateOnly, d.to)
	return from, to.AddDate(0, 0, 1), err
}

// judgeAll judges the decisions of a period again, and prints those that differ.
func (c Call) judgeAll(ctx context.Context, db *pg.DB, centre uuid.UUID, from, to time.Time) int {
	judged, differ := 0, 0
	err := app.NewServices(db).Review.JudgeAll(ctx, centre, from, to, func(r review.Result) {
		judged++
		if !r.Same() {
			differ++
			c.printJudged(r)
			fmt.Fprintln(c.Out)
		}
	})
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "%d decisions judged again; %d differ\n", judged, differ)
	if differ > 0 {
		return Refused
	}
	return Done
}

// printJudged prints one decision beside its being judged again.
func (c Call) printJudged(r review.Result) int {
	by := "a program"
	if r.PersonName != nil {
		by = *r.PersonName
	}
	fmt.Fprintf(c.Out, "%s %s of %s %s, decided at %s by %s\n", r.ID, r.Kind, r.SubjectType, r.SubjectID,
		r.DecidedAt.UTC().Format(time.RFC3339), by)
	if r.Unjudged != nil {
		fmt.Fprintln(c.Out, "Not judged again:", r.Unjudged)
		return Refused
	}
	c.printFound("Found then", r.Then)
	c.printFound("Found now", r.Now)
	if len(r.LeftOut) > 0 {
		c.printFound("Found then, not judged again", r.LeftOut)
	}
	for _, d := range r.Differences {
		when := "Only then"
		if d.Now {
			when = "Only now"
		}
		fmt.Fprintf(c.Out, "%s: %s %s\n  %s\n  Why: %s\n", when, d.Finding.Severity, d.Finding.Rule,
			d.Finding.Message, d.Why)
	}
	for _, s := range r.Again.Differs {
		fmt.Fprintln(c.Out, "Differs:", s)
	}
	for _, s := range r.Again.Since {
		fmt.Fprintln(c.Out, "Since then:", s)
	}
	if r.Again.LeftOut != "" {
		fmt.Fprintln(c.Out, r.Again.LeftOut)
	}
	if !r.Same() {
		fmt.Fprintln(c.Out, "The decision is not the same when judged again.")
		return Refused
	}
	fmt.Fprintln(c.Out, "The decision is the same when judged again.")
	return Done
}

// printFound prints findings under a heading.
func (c Call) printFound(heading string, found finding.List) {
	fmt.Fprintf(c.Out, "%s: %d\n", heading, len(found))
	for _, f := range found {
		fmt.Fprintf(c.Out, "  %s %s: %s\n", f.Severity, f.Rule, f.Message)
	}
}

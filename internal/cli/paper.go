package cli

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/once"
	"tankside/internal/people"
)

const aboutPaper = `records a paper as the operator, where nobody else of the centre may: nobody
records their own, and an owner may be alone there. It stands in the ledger, and
shows as not seen by a second person here.
  record -centre ID -person ID -kind KIND -issued-on DATE -seen-by NAME [-outcome OUTCOME] [-valid-until DATE] [-reference TEXT]`

// paperFlags are the arguments of the command, unparsed.
type paperFlags struct {
	centre, person, kind, outcome, issued, until, seen, reference string
}

// paper records a paper on behalf of the operator.
func paper(ctx context.Context, c Call) int {
	var p paperFlags
	verb := ""
	if len(c.Args) > 0 {
		verb, c.Args = c.Args[0], c.Args[1:]
	}
	_, ok := c.flags("paper", aboutPaper, func(f *flag.FlagSet) {
		f.StringVar(&p.centre, "centre", "", "the centre's `id`")
		f.StringVar(&p.person, "person", "", "the `id` of the person whose paper it is")
		f.StringVar(&p.kind, "kind", "", "the `kind`: "+strings.Join(people.PaperKinds, ", "))
		f.StringVar(&p.outcome, "outcome", "valid", "the `outcome` of a medical: "+
			strings.Join(people.MedicalOutcomes, ", "))
		f.StringVar(&p.issued, "issued-on", "", "the `date` on which it was issued, like 2027-05-20")
		f.StringVar(&p.until, "valid-until", "", "its last `date`; without one it does not expire by itself")
		f.StringVar(&p.seen, "seen-by", "", "the `name` of whoever saw the document")
		f.StringVar(&p.reference, "reference", "", "`where` it is kept")
	})
	n, centre, err := p.read()
	if !ok || err != nil || verb != "record" {
		if ok && verb == "record" {
			fmt.Fprintln(c.Errs, "tankside paper record:", err)
		}
		fmt.Fprintln(c.Errs, "tankside paper:", aboutPaper)
		return Misused
	}
	return c.recordPaper(ctx, centre, n, p.seen)
}

func (c Call) recordPaper(ctx context.Context, centre uuid.UUID, n people.NewPaper, seen string) int {
	db, err := c.app(ctx)
	if err != nil {
		return c.fail(err)
	}
	defer db.Close()
	kept, err := app.NewServices(db).Desk.RecordPaperAsOperator(ctx, actor.Actor{Centre: centre}, n,
		seen)
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.Out, "paper  %s\n", kept.ID)
	for _, f := range kept.Findings {
		fmt.Fprintln(c.Out, f.Message)
	}
	return Done
}

// read parses the arguments into a paper; the error names the wrong one.
func (p paperFlags) read() (n people.NewPaper, centre uuid.UUID, err error) {
	n = people.NewPaper{Key: once.New(), Kind: p.kind, Outcome: p.outcome}
	if centre, err = uuid.Parse(p.centre); err != nil {
		return n, centre, errors.New("-centre wants the id of the centre")
	}
	if n.PersonID, err = uuid.Parse(p.person); err != nil {
		return n, centre, errors.New("-person wants the id of the person")
	}
	if n.IssuedOn, err = time.Parse(time.DateOnly, p.issued); err != nil {
		return n, centre, errors.New("-issued-on wants a date like 2027-05-20")
	}
	if p.until != "" {
		until, err := time.Parse(time.DateOnly, p.until)
		if err != nil {
			return n, centre, errors.New("-valid-until wants a date like 2027-05-20")
		}
		n.ValidUntil = &until
	}
	if p.reference != "" {
		n.Reference = &p.reference
	}
	return n, centre, people.CheckOperatorsPaper(n, p.seen)
}

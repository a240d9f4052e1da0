// Package planform converts gas plans between the contract's types and those of packages gasplan and plans:
// it reads a PlanInput and writes a CalculatedPlan.
//
// It owns no figure and no rule. It must not know servers or databases, so that "tankside plan"
// reads and writes the contract's own JSON without either.
package planform

import (
	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/gasplan"
)

// View returns a plan: its input, its results, and the worked steps, nil where they were not asked
// for.
func View(in gasplan.Input, r gasplan.Result, worked []gasplan.WorkedSteps) api.CalculatedPlan {
	out := api.CalculatedPlan{
		Input:       InputView(in),
		People:      form.Each(r.People, personView),
		Group:       groupView(r.Group),
		Findings:    form.Findings(r.Findings),
		Assumptions: append([]string{}, r.Assumptions...),
		RuleBooks: form.Each(r.RuleBooks,
			func(b gasplan.RuleBook) api.PlanRuleBook { return api.PlanRuleBook(b) }),
		Worked:  nullable.NewNullNullable[[]api.PlanWorked](),
		Caution: gasplan.Caution,
	}
	if worked != nil {
		out.Worked.Set(form.Each(worked, workedView))
	}
	return out
}

func personView(p gasplan.PersonResult) api.PlanPerson {
	return api.PlanPerson{
		Key:           p.Key,
		ParticipantID: form.OrNull(p.ParticipantID),
		Name:          p.Name,
		Start:         api.Quantity(p.Start),
		Contents:      api.Quantity(p.Contents),
		Rate:          api.Quantity(p.Rate),
		RateFrom:      form.UnlessEmpty(p.RateFrom),
		SharesWith:    p.SharesWith,
		StressedRate:  api.Quantity(p.StressedRate),
		AscentGas:     api.Quantity(p.AscentGas),
		Low:           api.Quantity(p.Low),
		LowExact:      api.Quantity(p.LowExact),
		Turn:          api.Quantity(p.Turn),
		TurnExact:     api.Quantity(p.TurnExact),
		Usable:        api.Quantity(p.Usable),
		BeforeTurn:    api.Quantity(p.BeforeTurn),
		AtAscent:      api.Quantity(p.AtAscent),
		ExpectedEnd:   api.Quantity(p.ExpectedEnd),
		GasTime:       api.Quantity(p.GasTime),
		TurnTime:      api.Quantity(p.TurnTime),
		MixMaxDepth:   api.Quantity(p.MixMaxDepth),
		NoStop:        noStopView(p.NoStop),
	}
}

func noStopView(n gasplan.NoStopResult) api.PlanNoStop {
	return api.PlanNoStop{
		OutsideTables: n.OutsideTables,
		OfDay:         n.OfDay,
		AscentsOfDay:  n.AscentsOfDay,
		GroupBefore:   form.UnlessEmpty(n.GroupBefore),
		RowFsw:        form.UnlessEmpty(n.RowFSW),
		ResidualTime:  orNull(n.Residual),
		TotalTime:     api.Quantity(n.Total),
		Limit:         orNull(n.Limit),
		Longest:       orNull(n.Longest),
		GroupAfter:    form.UnlessEmpty(n.GroupAfter),
	}
}

func groupView(g gasplan.GroupResult) api.PlanGroup {
	return api.PlanGroup{
		Limiting:        g.Limiting,
		Controlling:     g.Controlling,
		TurnAfter:       api.Quantity(g.TurnAfter),
		LatestAscent:    api.Quantity(g.LatestAscent),
		AscentTime:      api.Quantity(g.AscentTime),
		NoStopLimit:     orNull(g.NoStopLimit),
		NoStopLimitedBy: form.UnlessEmpty(g.NoStopLimitedBy),
	}
}

func workedView(w gasplan.WorkedSteps) api.PlanWorked {
	step := func(s gasplan.Step) api.PlanStep {
		return api.PlanStep{Title: s.Title, Text: s.Text, Source: s.Source}
	}
	return api.PlanWorked{Key: w.Key, Bar: form.Each(w.Bar, step), Psi: form.Each(w.PSI, step),
		NoStop: form.Each(w.NoStop, step)}
}

func orNull(q *gasplan.Quantity) nullable.Nullable[api.Quantity] {
	return form.OrNull((*api.Quantity)(q))
}

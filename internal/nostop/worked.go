package nostop

import (
	"fmt"
	"strconv"

	"tankside/internal/units"
)

// Step is one step of a worked calculation.
type Step struct {
	Title  string // "Residual nitrogen"
	Text   string // "Group D on the row of 60 fsw: 24 min."
	Source string // the table, or whose choice it is
}

// Worked returns the steps from one dive's depth and times to its group.
func (r Result) Worked() []Step {
	steps := []Step{r.stepStart()}
	if r.Row.Depth == 0 {
		return append(steps, Step{"Outside the tables",
			"The tables have no row for this dive. Nothing is known of the group after it; " +
				"Z is put in its place and no dive is planned from these tables for 24 h.", ours})
	}
	steps = append(steps, r.stepDepth(), r.stepTime(), r.stepResidual(), r.stepLimit(), r.stepGroup())
	return steps
}

func (r Result) stepStart() Step {
	s := Step{Title: "Group at the start", Source: source98}
	switch {
	case r.First:
		s.Text = "First dive: no repetitive group, no residual nitrogen."
	case r.Joined:
		s.Text = fmt.Sprintf(
			"%s on the surface is less than %s: one dive with the one before, started in group %s. "+
				"Add the times under water and take the greater depth.", r.Surface, least, r.Before)
	case r.Before == None:
		s.Text = fmt.Sprintf(
			"%s (h:mm) on the surface: no residual nitrogen is left to count, as after a first dive.",
			r.Surface.Clock())
	default:
		s.Text = fmt.Sprintf("%s (h:mm) on the surface: group %s.", r.Surface.Clock(), r.Before)
	}
	return s
}

func (r Result) stepDepth() Step {
	s := Step{Title: "Row", Source: source97}
	if r.ByFoot {
		s.Source = source2A1
	}
	depth := r.Depth.String()
	if r.Depth.Unit != units.UnitFoot {
		depth += " / 0.3048 = " + strconv.FormatFloat(units.RoundUp(Feet(r.Depth.Depth()), 0.1), 'f', 1, 64) +
			" ft"
	}
	s.Text = fmt.Sprintf("%s: that depth or the next deeper row is %s.", depth, r.Row.Depth)
	if own, _ := RowAt(r.Depth.Depth()); !r.ByFoot && own.Depth != r.Row.Depth {
		s.Text = fmt.Sprintf(
			"%s: the row would be %s, but for group %s the table sends the reader to the row of %s.",
			depth, own.Depth, r.Before, r.Row.Depth)
		s.Source = source988
	}
	return s
}

func (r Result) stepTime() Step {
	s := Step{Title: "Time", Source: ours +
		" (the manual's bottom time ends at the start of the ascent, which is less)"}
	s.Text = fmt.Sprintf("From time in to time out, a minute begun counts whole: %s.", r.Own)
	if r.Under != r.Own {
		s.Text += fmt.Sprintf(" With what it is joined to: %s.", r.Under)
	}
	return s
}

func (r Result) stepResidual() Step {
	s := Step{Title: "Residual nitrogen", Source: source98}
	switch {
	case r.Before == None:
		s.Text = fmt.Sprintf("None: 0 + %d = %s.", int(r.Under), r.Total)
	case r.Residual.Undefined:
		s.Source = source988
		s.Text = fmt.Sprintf("For group %s the row of %s has no figure: none is needed.",
			r.Before, r.Row.Depth)
	default:
		s.Text = fmt.Sprintf("Group %s on the row of %s: %d min. %d + %d = %s.", r.Before, r.Row.Depth,
			int(r.Residual.Minutes), int(r.Residual.Minutes), int(r.Under), r.Total)
	}
	return s
}

func (r Result) stepLimit() Step {
	s := Step{Title: "No-stop limit", Source: source97}
	if r.ByFoot {
		s.Source = source2A1
	}
	limit := r.Row.Limit
	switch {
	case limit.Unlimited:
		s.Text = fmt.Sprintf("The row of %s has no limit of time.", r.Row.Depth)
	case limit.Allows(r.Total):
		s.Text = fmt.Sprintf("%s on the row of %s; %d is within it. The dive itself may last %s at most.",
			limit, r.Row.Depth, int(r.Total), r.Left)
	default:
		s.Text = fmt.Sprintf("%s on the row of %s; %d is over it. The dive itself may last %s at most.",
			limit, r.Row.Depth, int(r.Total), r.Left)
	}
	return s
}

func (r Result) stepGroup() Step {
	s := Step{Title: "Group at the end", Source: source97}
	if r.ByFoot {
		s.Source = source2A1
	}
	switch {
	case r.Outside:
		s.Source = ours
		s.Text = "Outside the limits the table has no group; Z is put in its place, and no dive is planned " +
			"from these tables for 24 h."
	case r.Residual.Undefined:
		s.Source = source988
		s.Text = fmt.Sprintf("The shallow dive leaves it at %s.", r.After)
	default:
		s.Text = fmt.Sprintf("%s on the row of %s, that time or the next longer: group %s.",
			r.Total, r.Row.Depth, r.After)
	}
	return s
}

// Worked returns the steps to the earliest flight or ascent to altitude.
func (w Wait) Worked() []Step {
	if w.None || w.From.IsZero() {
		return nil
	}
	steps := []Step{
		{"Highest group",
			fmt.Sprintf("In the 24 h up to %s: %s.", w.From.Format(timeLayout), w.Highest), source96},
		{"Table", fmt.Sprintf("Group %s before %s of altitude, the next higher thousand feet: %s (h:mm).",
			w.Highest, w.Altitude, w.Table.Clock()), source96},
	}
	switch w.Workshop {
	case afterOutside:
		steps = append(steps,
			Step{"After a dive outside the tables", "48 h.", ours + "; " + sourceDAN + " gives no figure"})
	case afterSeveral:
		steps = append(steps, Step{"Flying", "More than one dive in 48 h: 18 h.", sourceDAN})
	case afterOne:
		steps = append(steps, Step{"Flying", "A single no-stop dive: 12 h.", sourceDAN})
	}
	return append(steps, Step{"Earliest", fmt.Sprintf("The longer, %s (h:mm) after %s: %s.",
		max(w.Table, w.Workshop).Clock(), w.From.Format(timeLayout), w.Earliest.Format(timeLayout)),
		"the longer of the two is our choice"})
}

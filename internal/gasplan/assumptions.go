package gasplan

import (
	"fmt"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// assumptions returns in words what the plan takes for granted.
func (c *Computed) assumptions() []string {
	g, d, w := c.in.Settings, c.in.Dive, c.gaugeWords()
	out := []string{
		lawWords(c.settings.Law),
		w.water(d.Water),
		fmt.Sprintf("The whole time until the ascent counts at %s; gas for the ascent is reckoned from %s.",
			w.of(*d.MeanDepth), w.of(d.Depth)),
		fmt.Sprintf("Under stress people breathe %s times their planned rate.", units.DecimalOf(g.Stress)),
		fmt.Sprintf("%s to sort things out at the deepest point, ascent at %s, %s.", g.SortOut.Reading(),
			w.of(*g.AscentSpeed), c.stop()),
		fmt.Sprintf("On top of the gas for the ascent %s of reserve; no low-gas pressure is below %s.",
			w.of(*g.Reserve), w.of(*g.Floor)),
		turnWords[g.TurnRule],
		c.in.whose(),
		fmt.Sprintf("The no-stop tables count from leaving the surface to reaching it, %s of ascent included.",
			c.ascent),
	}
	if d.WaterTemperature == nil {
		out = append(out, "The temperature of the water is not known; the gas is taken at "+w.temperature()+".")
	}
	if d.Visibility == nil || d.Current == nil {
		out = append(out, "What is not known of visibility and current is not judged.")
	}
	return append(out, c.assumedOfPeople()...)
}

var turnWords = map[string]string{
	"all_usable": "All usable gas may be breathed before turning: one may come up anywhere.",
	"halves":     "Half of the usable gas is for the way out.",
	"thirds":     "A third of the usable gas is for the way out.",
}

func (c *Computed) stop() string {
	if c.settings.Ascent.StopFor <= 0 || c.settings.Ascent.Stop <= 0 {
		return "no safety stop"
	}
	return fmt.Sprintf("%s at %s", c.in.Settings.StopTime.Reading(),
		c.gaugeWords().of(*c.in.Settings.StopDepth))
}

// assumedOfPeople returns what was taken for granted of the people, those of whom
// the same was taken together.
func (c *Computed) assumedOfPeople() []string {
	var unknown, few, sharing, fresh alike
	var known []string
	for i, v := range c.in.Divers {
		own := unitsWith(units.Unit(v.GaugeUnit))
		novice := own.rateOf(gas.NoviceRate).Reading().String()
		switch from := v.rateFrom(); {
		case v.BreathingRate != nil:
			known = append(known, fmt.Sprintf("%s breathes %s (%s)", v.Name,
				own.rateOf(v.BreathingRate.Reading().Rate()).Reading(), from))
		case from == NoviceRateFrom:
			unknown.add(novice, v.Name)
		default:
			few.add(novice+", the "+from, v.Name)
		}
		sharing.add(c.in.Divers[c.plan.People[i].SharesWith].Name, v.Name)
		if len(v.EarlierDives) == 0 {
			fresh.add("", v.Name)
		}
	}
	var out []string
	for _, x := range unknown {
		out = append(out, fmt.Sprintf("Nothing is known of how much %s %s: %s.", finding.Names(x.names),
			verb(x.names, "breathes", "breathe"), x.what))
	}
	for _, x := range few {
		out = append(out, fmt.Sprintf("%s %s planned with %s.", finding.Names(x.names),
			verb(x.names, "is", "are"), x.what))
	}
	if len(known) > 0 {
		out = append(out, strings.Join(known, ", ")+".")
	}
	for _, x := range sharing {
		out = append(out, fmt.Sprintf("%s %s gas with %s.", finding.Names(x.names),
			verb(x.names, "shares", "share"), x.what))
	}
	for _, x := range fresh {
		out = append(out, fmt.Sprintf("%s %s taken to have made no dive in the 48 h before.",
			finding.Names(x.names), verb(x.names, "is", "are")))
	}
	return out
}

// alike gathers the names of those of whom the same is true.
type alike []struct {
	what  string
	names []string
}

func (a *alike) add(what, name string) {
	for i := range *a {
		if (*a)[i].what == what {
			(*a)[i].names = append((*a)[i].names, name)
			return
		}
	}
	*a = append(*a, struct {
		what  string
		names []string
	}{what, []string{name}})
}

func verb(names []string, one, several string) string {
	if len(names) == 1 {
		return one
	}
	return several
}

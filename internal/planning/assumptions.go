package planning

import (
	"fmt"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// assumptions says in words what the plan takes for granted.
func (c *calculated) assumptions() []string {
	g, d := c.in.Settings, c.in.Dive
	out := []string{
		lawWords(c.settings.Law),
		map[string]string{"salt": "Salt water: 10 m add one pressure of the surface.", "fresh": "Fresh water: 34 ft (10.36 m) add one pressure of the surface."}[d.Water],
		fmt.Sprintf("The whole time until the ascent counts at %s; gas for the ascent is reckoned from %s.", d.MeanDepth.Reading(), d.Depth.Reading()),
		fmt.Sprintf("Under stress people breathe %s times their planned rate.", units.DecimalOf(g.Stress)),
		fmt.Sprintf("%s to sort things out at the deepest point, ascent at %s, %s.", g.SortOut.Reading(), g.AscentSpeed.Reading(), c.stop()),
		fmt.Sprintf("On top of the gas for the ascent %s of reserve; no low-gas pressure is below %s.", g.Reserve.Reading(), g.Floor.Reading()),
		turnWords[g.TurnRule],
		c.in.whose(),
		fmt.Sprintf("The no-stop tables count from leaving the surface to reaching it, %s of ascent included.", c.ascent),
	}
	if d.WaterTemperature == nil {
		out = append(out, "The temperature of the water is not known; the gas is taken at 20 °C.")
	}
	if d.Visibility == nil || d.Current == nil {
		out = append(out, "What is not known of visibility and current is not judged.")
	}
	for i := range c.in.Divers {
		out = append(out, c.assumed(i)...)
	}
	return out
}

var turnWords = map[string]string{
	"all_usable": "All usable gas may be breathed before turning: one may come up anywhere.",
	"halves":     "Half of the usable gas is for the way out.",
	"thirds":     "A third of the usable gas is for the way out.",
}

func (c *calculated) stop() string {
	if c.settings.Ascent.StopFor <= 0 || c.settings.Ascent.Stop <= 0 {
		return "no safety stop"
	}
	return fmt.Sprintf("%s at %s", c.in.Settings.StopTime.Reading(), c.in.Settings.StopDepth.Reading())
}

// assumed says what was taken for granted of one person.
func (c *calculated) assumed(i int) []string {
	v := c.in.Divers[i]
	with := c.in.Divers[c.plan.People[i].SharesWith].Name
	rate := fmt.Sprintf("%s breathes %s", v.Name, v.BreathingRate.maybe())
	if v.BreathingRate == nil {
		u := unitsWith(units.Unit(v.GaugeUnit))
		rate = fmt.Sprintf("Nothing is known of how much %s breathes: %s", v.Name, u.rateOf(gas.NoviceRate).Reading())
	}
	out := []string{rate + ", and shares gas with " + with + "."}
	if len(v.EarlierDives) == 0 {
		out = append(out, v.Name+" is taken to have made no dive in the 48 h before.")
	}
	return out
}

package cli

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"tankside/internal/gasplan"
	"tankside/internal/units"
)

// readPlan reads the arguments. It returns flag.ErrHelp after it printed the help.
func readPlan(args []string, stdin io.Reader, out io.Writer) (planRequest, error) {
	var a planRequest
	fs := flag.NewFlagSet("plan", flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Func("diver", "a `diver`, twice or more: 'name: start in cylinder, rate, oxygen', "+
		"the last two if known", func(s string) error {
		v, err := readDiver(s)
		a.in.Divers = append(a.in.Divers, v)
		return err
	})
	d, s := &a.in.Dive, &a.in.Settings
	fs.Func("depth", "greatest `depth` of the dive", quantityFlag(&d.Depth, units.Depths))
	fs.Func("time", "bottom `time`: from leaving the surface to the start of the ascent",
		quantityFlag(&d.PlannedTime, units.Times))
	fs.Func("mean", "mean `depth` until the ascent (the greatest)", optionalFlag(&d.MeanDepth, units.Depths))
	fs.Func("least", "least `time` from time in to time out, the ascent and its stop included, "+
		"for the dive to count (none)", optionalFlag(&d.LeastTime, units.Times))
	fs.Func("site", "greatest `depth` of the site (not judged)", optionalFlag(&d.SiteMaxDepth, units.Depths))
	fs.Func("temperature", "`temperature` of the water (not known)",
		optionalFlag(&d.WaterTemperature, units.Temperatures))
	fs.StringVar(&d.Water, "water", "", "`kind` of water: salt or fresh (salt)")
	fs.StringVar(&s.Law, "law", "", "`law` of gas: real or ideal (real)")
	fs.Func("stress", "how many `times` the rate people breathe when they share gas (1.5)",
		func(text string) (err error) {
			if s.Stress, err = strconv.ParseFloat(text, 64); err == nil && s.Stress == 0 {
				err = errors.New("people who breathe nothing need no plan; want 1 or more")
			}
			return err
		})
	fs.Func("sort-out", "`time` to sort things out at the deepest point (1 min)",
		optionalFlag(&s.SortOut, units.Times))
	fs.Func("ascent", "`speed` of the ascent (9 m/min)", optionalFlag(&s.AscentSpeed, units.Speeds))
	fs.Func("stop", "`depth` of the safety stop (5 m)", optionalFlag(&s.StopDepth, units.Depths))
	fs.Func("stop-time", "`time` of the safety stop (3 min)", optionalFlag(&s.StopTime, units.Times))
	fs.Func("reserve", "`pressure` kept on top of the gas for the ascent (10 bar)",
		optionalFlag(&s.Reserve, units.Pressures))
	fs.Func("floor", "`pressure` below which no low-gas pressure is (50 bar)",
		optionalFlag(&s.Floor, units.Pressures))
	fs.Func("turn", "`rule` of the turn: all, halves or thirds (all)", turnRule(&s.TurnRule))
	fs.StringVar(&a.file, "file", "", "read the plan from this `file` in JSON instead, - for standard input")
	fs.StringVar(&a.html, "html", "", "write the sheet to this `file` too")
	fs.BoolVar(&a.json, "json", false, "answer in JSON")
	fs.BoolVar(&a.worked, "worked", false, "show each step with its source")
	if err := parse(fs, args, planHelp, out); err != nil {
		return a, err
	}
	return a, a.complete(fs, stdin)
}

// complete reads what needs more than one flag.
func (a *planRequest) complete(fs *flag.FlagSet, stdin io.Reader) (err error) {
	d := a.in.Dive
	switch {
	case fs.NArg() > 0:
		return fmt.Errorf("%q is not understood; give each diver with --diver", fs.Arg(0))
	case a.file != "" && len(given(fs)) > 0:
		return fmt.Errorf("--%s does not go with --file, which has all of the plan", given(fs)[0])
	case a.file != "":
		a.in, err = readPlanFile(a.file, stdin)
		return err
	case d.Depth.Unit == "" || d.PlannedTime.Unit == "":
		return errors.New("give the dive with --depth and --time, or a --file")
	case len(a.in.Divers) < 2:
		return errors.New("give two or more divers with --diver: gas is planned for two on one cylinder")
	case d.Water != "" && d.Water != "salt" && d.Water != "fresh":
		return fmt.Errorf("--water %q is not known: want salt or fresh", d.Water)
	case a.in.Settings.Law != "" && a.in.Settings.Law != "real" && a.in.Settings.Law != "ideal":
		return fmt.Errorf("--law %q is not known: want real or ideal", a.in.Settings.Law)
	}
	return nil
}

// given returns the flags in the arguments that describe the plan.
func given(fs *flag.FlagSet) (names []string) {
	fs.Visit(func(f *flag.Flag) {
		switch f.Name {
		case "file", "html", "json", "worked":
		default:
			names = append(names, f.Name)
		}
	})
	return names
}

// quantityFlag returns a reader of a quantity of one dimension.
func quantityFlag(into *gasplan.Quantity, want units.Dimension) func(string) error {
	return func(s string) error {
		r, err := units.ParseReading(s)
		if err == nil && r.Unit.Dimension() != want {
			err = fmt.Errorf("%s is no %s", r, want)
		}
		*into = gasplan.Of(r)
		return err
	}
}

// optionalFlag is one for an optional quantity.
func optionalFlag(into **gasplan.Quantity, want units.Dimension) func(string) error {
	return func(s string) error {
		*into = new(gasplan.Quantity)
		return quantityFlag(*into, want)(s)
	}
}

func turnRule(into *string) func(string) error {
	rules := map[string]string{"all": "all_usable", "halves": "halves", "thirds": "thirds"}
	return func(s string) error {
		if *into = rules[s]; *into == "" {
			return errors.New("want all, halves or thirds")
		}
		return nil
	}
}

// diverForm matches a diver: a name, the pressure on the gauge, the cylinder as size
// and pressure, and further values in any order.
var diverForm = regexp.MustCompile(
	`^([^:]+):\s*([\d.]+\s*(?:bar|psi))` +
		`\s+in\s+(twins?\s+)?([\d.]+\s*(?:L|l|cu ft|cu_ft))(?:\s+([\d.]+\s*(?:bar|psi)))?((?:\s*,[^,]+)*)$`)

// readDiver reads one diver: "Ines: 200 bar in 12 L 232 bar, 18 L/min, 32 %".
func readDiver(s string) (gasplan.DiverInput, error) {
	m := diverForm.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return gasplan.DiverInput{}, fmt.Errorf("%q is not understood: want name, start and cylinder, "+
			"like 'Ines: 200 bar in 12 L 232 bar, 18 L/min'", s)
	}
	v := gasplan.DiverInput{Key: strings.TrimSpace(m[1]), Name: strings.TrimSpace(m[1])}
	if err := quantityFlag(&v.Start, units.Pressures)(m[2]); err != nil {
		return v, err
	}
	if err := readCylinder(&v.Cylinder, m[4], m[5]); err != nil {
		return v, err
	}
	if m[3] != "" {
		v.Cylinder.Count = 2
	}
	for _, more := range strings.Split(m[6], ",")[1:] {
		if err := readMore(&v, strings.TrimSpace(more)); err != nil {
			return v, err
		}
	}
	return v, nil
}

// readCylinder reads a size with its pressure. A size in cubic feet is the rated
// capacity of the cylinder at that pressure, and needs it.
func readCylinder(c *gasplan.CylinderInput, size, pressure string) error {
	if strings.Contains(size, "cu") {
		if pressure == "" {
			return fmt.Errorf("%s: say at which pressure it holds that, like '80 cu ft 3000 psi'", size)
		}
		return errors.Join(optionalFlag(&c.RatedCapacity, units.Volumes)(volume(size)),
			optionalFlag(&c.RatedPressure, units.Pressures)(pressure))
	}
	err := optionalFlag(&c.WaterVolume, units.Volumes)(volume(size))
	if pressure != "" {
		err = errors.Join(err, optionalFlag(&c.WorkingPressure, units.Pressures)(pressure))
	}
	return err
}

// volume returns a volume with its unit in the spelling of package units.
func volume(s string) string {
	return strings.NewReplacer("cu ft", "cu_ft", "l", "L").Replace(s)
}

// readMore reads a further value of a diver: the breathing rate or the oxygen.
func readMore(v *gasplan.DiverInput, s string) error {
	if n, ok := strings.CutSuffix(s, "%"); ok {
		x, err := strconv.ParseFloat(strings.TrimSpace(n), 64)
		if err != nil {
			return fmt.Errorf("%q is no share of oxygen: want one like 32 %%", s)
		}
		v.Oxygen = &gasplan.Quantity{Value: x, Unit: string(units.UnitPercent)}
		return nil
	}
	if err := optionalFlag(&v.BreathingRate,
		units.Rates)(strings.Replace(s, "cu ft", "cu_ft", 1)); err != nil {
		return fmt.Errorf("%q is neither a breathing rate, like 18 L/min, nor a share of oxygen, like 32 %%",
			s)
	}
	return nil
}

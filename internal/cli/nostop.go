package cli

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"tankside/api"
	"tankside/internal/nostop"
	"tankside/internal/nostopform"
	"tankside/internal/units"
)

const nostopHelp = `tankside nostop: no-stop limits and the repetitive dives of one person, by table.

By the US Navy Diving Manual, Revision 7, for air: next deeper row, next longer
time, residual nitrogen of all dives before. Confined water counts.

Look up one depth, for a person in a group if there were dives before:
  tankside nostop --depth '18 m'
  tankside nostop --depth '40 ft' --group E

A day (time in, depth, minutes under water):
  tankside nostop --dive '09:00 18 m 40 min' --dive '11:20 12 m 45 min'
  tankside nostop --worked --dive '09:00 60 ft 40 min' --dive '11:20 40 ft 45 min'

Done and planned, over midnight, with practice ascents and a flight:
  tankside nostop --dive '2026-06-06 16:00 15.5 m 38 min done' --dive '2026-06-07 09:00 9 m 30 min 4 ascents' --leave '2026-06-08 08:00'

For another program, in the forms of the API (POST /v1/no-stop/calculate); '-' is
standard input:
  tankside nostop --json --dive '09:00 18 m 40 min'
  echo '{"dives": [{"depth": {"value": 60, "unit": "ft"}, "under_time": {"value": 40, "unit": "min"}}]}' | tankside nostop --file -

Times are those of the place, all with one offset. The exit status is 0, 1 when
the tables forbid anything, 2 when the arguments cannot be read.

Flags:
`

// nostopRequest is the request in the arguments.
type nostopRequest struct {
	nostopform.Asked
	json, explain bool
}

// Nostop runs the command "tankside nostop". A dive without a date is on the day of
// now; in is read where the arguments name it as the file.
func Nostop(args []string, now time.Time, in io.Reader, out, errs io.Writer) int {
	asked, err := readNostop(args, now, in, out)
	if errors.Is(err, flag.ErrHelp) {
		return Done
	}
	if err != nil {
		fmt.Fprintln(errs, "tankside nostop:", err)
		fmt.Fprintln(errs, "See tankside nostop -h.")
		return Misused
	}
	answer := asked.Judge()
	if asked.json {
		err = writeJSON(out, answer.View(asked.explain))
	} else {
		err = asked.print(out, answer)
	}
	switch {
	case err != nil:
		fmt.Fprintln(errs, "tankside nostop:", err)
		return Misused
	case answer.Findings.Forbids():
		return Refused
	}
	return Done
}

// readNostop reads the arguments. It returns flag.ErrHelp after it printed the help.
func readNostop(args []string, now time.Time, in io.Reader, out io.Writer) (*nostopRequest, error) {
	a := &nostopRequest{}
	a.Cabin, a.Clock = nostop.Cabin, true
	fs := flag.NewFlagSet("nostop", flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	var dives []string
	var look nostopform.LookUp
	date, leave, file, altitude, up := now.Format(time.DateOnly), "", "", units.Reading{}, units.Reading{}
	fs.Func("dive", "`'[date] time depth minutes'`, like '09:00 18 m 40 min'; then '3 ascents' and 'done' "+
		"if so; repeat it",
		func(s string) error { dives = append(dives, s); return nil })
	fs.Func("depth", "look up this `depth` only, like '18 m'", readDepth(&look.Depth))
	fs.Func("group", "repetitive `group` at the start, for --depth", func(s string) (err error) {
		look.Group, err = nostop.ParseGroup(strings.ToUpper(s))
		return err
	})
	fs.StringVar(&file, "file", "", "read everything that is asked from a JSON `file` in the API's form, "+
		"- for standard input")
	fs.StringVar(&date, "date", date, "the `day` of dives given without one")
	fs.Func("altitude", "`altitude` of the site, like '250 m' (0 m)", readDepth(&altitude))
	fs.Func("cabin", "`altitude` of the cabin in flight (8000 ft)", readDepth(&a.Cabin))
	fs.Func("up", "the wait before going up to this `altitude` by road or on foot, like '900 m'",
		readDepth(&up))
	fs.StringVar(&leave, "leave", "", "judge a flight, or with --up going up, at this `'date time'`")
	fs.Func("margin", "end so many `minutes` before the limit (5)",
		readPositive(func(n int) { a.Settings.Margin = nostop.Minutes(n) }))
	fs.Func("dives", "`number` of dives in a day without a caution (3)",
		readPositive(func(n int) { a.Settings.DivesADay = n }))
	fs.Func("ascents", "`number` of ascents in a day without a caution (6)",
		readPositive(func(n int) { a.Settings.AscentsDay = n }))
	fs.BoolVar(&a.Settings.ByTheFoot, "by-foot", false,
		"use Table 2A-1, by the foot, from 30 to 50 ft where there is no residual nitrogen")
	fs.BoolVar(&a.json, "json", false, "answer in JSON, in the API's form")
	fs.BoolVar(&a.explain, "worked", false, "show each step with its table")
	if err := parse(fs, args, nostopHelp, out); err != nil {
		return nil, err
	}
	if fs.NArg() > 0 {
		return nil, fmt.Errorf("%q is not understood; give each dive with --dive", fs.Arg(0))
	}
	if file != "" {
		return a, a.readFile(fs, file, in)
	}
	if !up.IsZero() {
		a.Altitude = &up
	}
	if len(dives) == 0 {
		look.Altitude = altitude
		return a, a.lookOnly(fs, look)
	}
	return a, a.complete(look, dives, date, leave, altitude)
}

// lookOnly reads the look-up of one depth; flags about a sequence of dives do not go
// with it.
func (a *nostopRequest) lookOnly(fs *flag.FlagSet, look nostopform.LookUp) (err error) {
	fs.Visit(func(f *flag.Flag) {
		if !slices.Contains([]string{"depth", "group", "altitude", "by-foot", "json", "worked"}, f.Name) {
			err = fmt.Errorf("--%s is about dives; give them with --dive", f.Name)
		}
	})
	switch {
	case err != nil:
		return err
	case look.Depth.IsZero():
		return errors.New("nothing was asked; give --depth or --dive")
	case look.Depth.Value <= 0:
		return fmt.Errorf("a depth of %s has no row; give one of more than 0", look.Depth)
	}
	a.LookUp = &look
	return nil
}

// readFile reads a request in the API's form.
func (a *nostopRequest) readFile(fs *flag.FlagSet, name string, in io.Reader) (err error) {
	fs.Visit(func(f *flag.Flag) {
		if f.Name != "file" && f.Name != "json" && f.Name != "worked" {
			err = fmt.Errorf("--%s does not go with --file, which says everything; --json and --worked do",
				f.Name)
		}
	})
	if err != nil {
		return err
	}
	var body api.NoStopInput
	if err := readBody(name, in, "calculateNoStop", &body); err != nil {
		return err
	}
	a.Asked, err = nostopform.Read(body)
	return faultText(err)
}

// complete reads what needs more than one flag.
func (a *nostopRequest) complete(look nostopform.LookUp, dives []string, date, leave string,
	altitude units.Reading) (err error) {
	if !look.Depth.IsZero() || look.Group != nostop.None {
		return errors.New("--depth and --group look up one depth; they do not go with --dive")
	}
	for _, s := range dives {
		d, err := readDive(s, date)
		if err != nil {
			return err
		}
		d.Key, d.Altitude = d.In.Format("15:04"), altitude
		a.Dives = append(a.Dives, d)
	}
	if leave == "" {
		return nil
	}
	at, err := time.Parse("2006-01-02 15:04", leave)
	if err != nil {
		return fmt.Errorf("--leave %q is no date and time: want one like '2026-06-08 08:00'", leave)
	}
	a.Leave = &at
	return nil
}

func readDepth(into *units.Reading) func(string) error {
	return func(s string) error {
		r, err := units.ParseReading(s)
		if err == nil && r.Unit.Dimension() != units.Depths {
			err = fmt.Errorf("want m or ft, not %s", r.Unit)
		}
		*into = r
		return err
	}
}

func readPositive(set func(int)) func(string) error {
	return func(s string) error {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			return errors.New("want a whole number from 1 on")
		}
		set(n)
		return nil
	}
}

// diveForm matches a dive: an optional date, time in, depth, minutes under water,
// ascents if more than one, and whether it is done.
var diveForm = regexp.MustCompile(
	`^(?:(\d{4}-\d\d-\d\d)[ T])?(\d\d?:\d\d)\s+([\d.]+\s*(?:m|ft))` +
		`\s+(\d{1,4})\s*min(?:\s+(\d{1,2})\s*ascents?)?(\s+done)?$`)

func readDive(s, date string) (nostop.Dive, error) {
	m := diveForm.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return nostop.Dive{}, fmt.Errorf("--dive %q is not understood: want time in, depth and minutes, "+
			"like '09:00 18 m 40 min'", s)
	}
	if m[1] != "" {
		date = m[1]
	}
	in, err := time.Parse("2006-01-02 15:04", date+" "+m[2])
	if err != nil {
		return nostop.Dive{}, fmt.Errorf("--dive %q: %s %s is no date and time", s, date, m[2])
	}
	depth, err := units.ParseReading(m[3])
	if err != nil {
		return nostop.Dive{}, fmt.Errorf("--dive %q: %w", s, err)
	}
	under, _ := strconv.Atoi(m[4]) // digits only
	ascents, _ := strconv.Atoi(m[5])
	return nostop.Dive{Depth: depth, In: in, Out: in.Add(time.Duration(under) * time.Minute),
		Ascents: ascents, Done: m[6] != ""}, nil
}

// printRow writes the result of a look-up.
func printRow(out io.Writer, l nostopform.LookUp, res nostop.Residual) {
	fmt.Fprintf(out, "%s: row of %s, no-stop limit %s\n", l.Depth, res.Row.Depth, res.Row.Limit)
	switch {
	case res.Undefined:
		fmt.Fprintf(out, "group %s: no residual nitrogen time is needed here, and the dive leaves the group "+
			"as it is\n", l.Group)
		return
	case l.Group != nostop.None:
		fmt.Fprintf(out, "group %s: residual nitrogen %s, which leaves %s\n", l.Group, res.Minutes,
			res.Row.Limit.Less(res.Minutes))
	}
	fmt.Fprint(out, "group after so many minutes", residualToo(res), ":")
	for g := nostop.A; g <= nostop.Z; g++ {
		if res.Row.Has(g) {
			fmt.Fprintf(out, "  %s %s", g, strings.TrimSuffix(res.Row.Longest(g).String(), " min"))
		}
	}
	fmt.Fprintln(out)
}

func residualToo(r nostop.Residual) string {
	if r.Minutes == 0 {
		return ""
	}
	return " (with the residual nitrogen time)"
}

// print writes the answer as a table, the findings, and the waits.
func (a *nostopRequest) print(out io.Writer, answer nostopform.Answer) error {
	if answer.Row != nil {
		printRow(out, *a.LookUp, *answer.Row)
	}
	if len(a.Dives) > 0 {
		if err := printTable(out, answer.Plan, a.Clock); err != nil {
			return err
		}
		if a.explain {
			for i, r := range answer.Plan.Results {
				printSteps(out, fmt.Sprintf("Dive %d, %s", i+1, r.Dive.Key), r.Worked())
			}
			if a.Clock {
				printSteps(out, "Flying", answer.Flying.Worked())
			}
		}
	}
	fmt.Fprintln(out)
	for _, f := range answer.Findings {
		fmt.Fprintf(out, "%s: %s\n", f.Severity, f.Message)
		for _, c := range f.Cures {
			fmt.Fprintf(out, "  cure: %s\n", c.Message)
		}
	}
	if w := answer.Flying; !w.Earliest.IsZero() {
		printWait(out, fmt.Sprintf("No flight (cabin at %s)", w.Altitude), w, a.Clock)
	}
	if a.Altitude != nil && len(answer.GoingUp) == 1 && !answer.GoingUp[0].Earliest.IsZero() {
		printWait(out, fmt.Sprintf("Not up to %s", *a.Altitude), answer.GoingUp[0], a.Clock)
	}
	_, err := fmt.Fprintf(out, "\n%s\n", nostop.Advice)
	return err
}

func printWait(out io.Writer, what string, w nostop.Wait, clock bool) {
	if clock {
		fmt.Fprintf(out, "%s before %s.\n", what, w.Earliest.Format("2006-01-02 15:04"))
		return
	}
	fmt.Fprintf(out, "%s for %s (h:mm) after the dive that asks for most.\n", what,
		max(w.Table, w.Workshop).Clock())
}

// printTable writes a line for each dive.
func printTable(out io.Writer, p nostop.Plan, clock bool) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "dive\tin\tout\tdepth\tsurface\tgroup\trow\tresidual\tcounts as\tlimit\tat "+
		"most\tgroup after")
	for i, r := range p.Results {
		surface, row, limit, left := "-", "-", "-", "-"
		if !r.First {
			surface = r.Surface.Clock()
		}
		if r.Row.Depth > 0 {
			row, limit, left = r.Row.Depth.String(), r.Row.Limit.String(), r.Left.String()
		}
		residual, after := r.Residual.Minutes.String(), r.After.String()
		if r.Residual.Undefined {
			residual = "none"
		}
		if r.Outside {
			after = "not known"
		}
		in, back := r.Dive.In.Format("01-02 15:04"), r.Dive.Out.Format("15:04")
		if !clock {
			in, back = "-", r.Own.String()
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", i+1, in, back,
			r.Dive.Depth, surface, r.Before, row, residual, r.Total, limit, left, after)
	}
	return w.Flush()
}

func printSteps(out io.Writer, title string, steps []nostop.Step) {
	fmt.Fprintf(out, "\n%s\n", title)
	for _, s := range steps {
		fmt.Fprintf(out, "  %s: %s\n      [%s]\n", s.Title, s.Text, s.Source)
	}
}

func writeJSON(out io.Writer, v any) error {
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

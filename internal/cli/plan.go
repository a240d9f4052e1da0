package cli

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/httpapi/contract"
	"tankside/internal/planform"
	"tankside/internal/sheet"
)

const planHelp = `tankside plan: the gas, the turn and the low-gas pressure of people who dive together.

What is in each cylinder, how long it lasts, at which pressure to turn and at
which to call "low on gas", so that two can come up on one cylinder; and whether
depth and time need no stop. Nothing is stored, no server is asked.

Two divers, each with what the gauge shows, the cylinder, and how much they
breathe where it is known:
  tankside plan --depth '18 m' --time '25 min' --diver 'Ines: 200 bar in 12 L 232 bar, 18 L/min' --diver 'Nuno: 2900 psi in 80 cu ft 3000 psi'

Each step as on a blackboard, in bar and in psi; by the ideal law, as in class:
  tankside plan --worked --law ideal --depth '18 m' --time '25 min' --diver 'Ines: 200 bar in 11.1 L 207 bar, 20 L/min' --diver 'Nuno: 200 bar in 11.1 L 207 bar, 20 L/min'

There and back on twins and nitrox, with another stress and reserve:
  tankside plan --turn thirds --stress 1.8 --reserve '20 bar' --depth '80 ft' --time '20 min' --diver 'Rui: 3000 psi in twin 80 cu ft 3000 psi, 0.7 cu ft/min, 28 %' --diver 'Lars: 220 bar in twin 12 L 232 bar, 28 %'

A page for the wall or the phone:
  tankside plan --html plan.html --depth '12 m' --time '30 min' --diver 'Ines: 200 bar in 12 L 232 bar' --diver 'Nuno: 190 bar in 12 L 232 bar'

From a file, or from standard input with -, as POST /v1/plans/calculate takes it;
the answer as it gives it:
  echo '{"dive": {"depth": {"value": 18, "unit": "m"}, "planned_time": {"value": 25, "unit": "min"}}, "divers": [{"key": "Ines", "cylinder": {"water_volume": {"value": 12, "unit": "L"}}, "start": {"value": 200, "unit": "bar"}}, {"key": "Nuno", "cylinder": {"water_volume": {"value": 12, "unit": "L"}}, "start": {"value": 190, "unit": "bar"}}]}' | tankside plan --json --file -

The exit status is 0, 1 when the rules forbid anything, 2 when the arguments or
the file cannot be read, or nothing can be worked out from them.

Flags:
`

// planRequest is the request in the arguments of "tankside plan".
type planRequest struct {
	in           gasplan.Input
	file, html   string
	json, worked bool
}

// Plan runs the command "tankside plan".
func Plan(args []string, stdin io.Reader, out, errs io.Writer) int {
	asked, err := readPlan(args, stdin, out)
	if errors.Is(err, flag.ErrHelp) {
		return Done
	}
	if err != nil {
		printErrors(errs, err)
		fmt.Fprintln(errs, "See tankside plan -h.")
		return Misused
	}
	result, err := gasplan.Calculate(asked.in)
	if err == nil {
		err = asked.write(out, result)
	}
	switch {
	case err != nil:
		printErrors(errs, err)
		return Misused
	case result.Findings.Forbids():
		return Refused
	}
	return Done
}

// printErrors prints what is wrong, each input error in a line of its own.
func printErrors(errs io.Writer, err error) {
	var f *fault.Fault
	if !errors.As(err, &f) || len(f.Findings) < 2 {
		fmt.Fprintln(errs, "tankside plan:", err)
		return
	}
	for _, x := range f.Findings {
		fmt.Fprintf(errs, "tankside plan: %s: %s\n", x.Pointer, x.Message)
	}
}

// write writes the plan in the requested form.
func (a planRequest) write(out io.Writer, r gasplan.Result) error {
	var worked []gasplan.WorkedSteps
	if a.worked {
		var err error
		if worked, err = gasplan.Explain(a.in); err != nil {
			return err
		}
	}
	page := sheet.Plan{State: "Worked out, not stored and not confirmed", Input: a.in, Result: r}
	if a.html != "" {
		if err := writeFile(a.html, page.HTML); err != nil {
			return err
		}
	}
	if a.json {
		return writeJSON(out, planform.View(a.in, r, worked))
	}
	if err := page.Text(out); err != nil {
		return err
	}
	names := map[string]string{}
	for _, p := range r.People {
		names[p.Key] = p.Name
	}
	for _, w := range worked {
		printBoard(out, names[w.Key]+", in bar", w.Bar)
		printBoard(out, names[w.Key]+", in psi", w.PSI)
		printBoard(out, names[w.Key]+", no-stop limit", w.NoStop)
	}
	return nil
}

// writeFile writes a page to a file, whole or not at all.
func writeFile(name string, write func(io.Writer) error) error {
	var page bytes.Buffer
	if err := write(&page); err != nil {
		return err
	}
	return os.WriteFile(name, page.Bytes(), 0o644)
}

func printBoard(out io.Writer, title string, steps []gasplan.Step) {
	fmt.Fprintf(out, "\n%s\n", title)
	for _, s := range steps {
		fmt.Fprintf(out, "  %s: %s\n      [%s]\n", s.Title, s.Text, s.Source)
	}
}

// readPlanFile reads a plan in the contract's own form, as strictly as the service
// does. The name - is the standard input.
func readPlanFile(name string, stdin io.Reader) (gasplan.Input, error) {
	var in gasplan.Input
	text, err := readAll(name, stdin)
	if err != nil {
		return in, err
	}
	if err := contract.CheckBody("calculateGasPlan", text); err != nil {
		return in, err
	}
	var form api.PlanInput
	if err := contract.DecodeBody(text, &form); err != nil {
		return in, fmt.Errorf("read plan: %w", err)
	}
	return planform.Input(form), nil
}

// largestFile is the most that is read of a file: 1 MiB, as much as the service takes.
const largestFile = 1 << 20

func readAll(name string, stdin io.Reader) ([]byte, error) {
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		stdin = f
	}
	text, err := io.ReadAll(io.LimitReader(stdin, largestFile+1))
	if err == nil && len(text) > largestFile {
		err = fmt.Errorf("%s is larger than 1 MiB, which is as much as the service takes", name)
	}
	return text, err
}

package cli

import (
	"context"
	"flag"

	"tankside/internal/bench"
)

const aboutBench = `measures gas checks, sign-offs and gas plans written and an instructor's day
read, over HTTP on loopback, as ratios to the same statements run by pgbench;
and how far behind the live view is, watched on two instances while gas checks
arrive.`

// measure runs the load.
func measure(ctx context.Context, c Call) int {
	var smoke bool
	var rounds int
	var on bench.Addresses
	_, ok := c.flags("bench", aboutBench, func(f *flag.FlagSet) {
		f.BoolVar(&smoke, "smoke", false, "a few seconds only, to see that it works")
		f.StringVar(&on.Service, "service", "",
			"the `address` of an empty database as the service reaches it, by way of a pooler perhaps; "+
				"a private one is started without it")
		f.StringVar(&on.Owner, "owner", "", "with -service: its direct `address` as the owner")
		f.StringVar(&on.Worker, "worker", "", "with -service: its `address` as the role of background work; "+
			"without it none is measured")
		f.StringVar(&on.Yardstick, "yardstick", "",
			"with -service: its direct `address` as the service's role")
		f.IntVar(&rounds, "rounds", 0, "how often service and yardstick alternate (default 5, with -smoke 1)")
	})
	if !ok {
		return Misused
	}
	o := bench.Full()
	if smoke {
		o = bench.Smoke()
	}
	if rounds > 0 {
		o.Rounds = rounds
	}
	o.On = on
	o.Out, o.Errs = c.Out, c.Errs
	if err := bench.Run(ctx, o); err != nil {
		return c.fail(err)
	}
	return Done
}

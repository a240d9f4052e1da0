package cli

import (
	"context"
	"flag"
	"fmt"
	"strings"

	"tankside/internal/config"
	"tankside/internal/demo"
)

const aboutDemo = `starts everything on this machine, a private PostgreSQL included, plays an
invented centre's weekend course through the HTTP API, and then keeps serving.
TANKSIDE_ORIGINS names web origins that browsers may call from.`

// playDemo plays the demo.
func runDemo(ctx context.Context, c Call) int {
	o := demo.Options{Out: c.Out, Errs: c.Errs}
	_, ok := c.flags("demo", aboutDemo, func(f *flag.FlagSet) {
		f.BoolVar(&o.Once, "once", false,
			"end after the story; the exit status is 0 only if everything happened as expected")
		f.StringVar(&o.Dir, "data", "", "the `folder` of the private PostgreSQL's data")
		f.StringVar(&o.Listen, "listen", "",
			"the `address` to listen on; 127.0.0.1:8080, or any free port when that is taken")
	})
	if !ok {
		return Misused
	}
	origins, wrong := config.Origins(c.Getenv("TANKSIDE_ORIGINS"))
	if len(wrong) > 0 {
		return c.fail(fmt.Errorf("demo: TANKSIDE_ORIGINS %s", strings.Join(wrong, "; ")))
	}
	o.Origins = origins
	if err := demo.Run(ctx, o); err != nil {
		return c.fail(err)
	}
	return Done
}

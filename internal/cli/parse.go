package cli

import (
	"errors"
	"flag"
	"fmt"
	"io"
)

// parse reads arguments. -h writes the help and the usage of each flag, and is
// flag.ErrHelp.
func parse(fs *flag.FlagSet, args []string, help string, out io.Writer) error {
	err := fs.Parse(args)
	if errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(out, help)
		fs.SetOutput(out)
		fs.PrintDefaults()
	}
	return err
}

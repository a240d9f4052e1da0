// Command tankside is the service a dive centre runs its training on, and the
// commands around it.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"tankside/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := cli.Main(ctx, cli.Call{Args: os.Args[1:], Getenv: os.Getenv, Env: os.Environ(), In: os.Stdin,
		Out: os.Stdout, Errs: os.Stderr})
	stop()
	os.Exit(status)
}

// Command crowline answers, for a straight leg over ground with no path,
// which bearing to follow, what can be sighted along it and what it climbs.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"crowline/cmd/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	code := cli.Run(ctx, os.Args[1:], cli.SystemStreams())
	stop()
	os.Exit(code)
}

// Command greenweight serves the API. Run it without arguments, or with help to
// see what else it does.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"greenweight/deploy/boot"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	code := boot.Main(ctx, os.Args[1:], os.Environ(), os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

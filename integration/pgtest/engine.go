package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/testcontainers/testcontainers-go"
)

// patience bounds each wait for the engine or a server. It is long, as a test
// that waits in vain has failed anyway, and the machine may be slow.
const patience = 2 * time.Minute

// errAbsent is the reason why there is nothing to test on: no engine, or no
// image and no means of building one. It is not used for what is there and
// fails.
var errAbsent = errors.New("there is nothing to test on")

// setting returns what the environment says, or nothing.
func setting(name string) string {
	return os.Getenv(name) //nolint:forbidigo // a setting of the tests, not of the service
}

// PrepareEngine sets what the container library needs on engines without a
// registry, where the caller has not set it:
//
//   - Its reaper would be pulled from a registry. Only the word "true" switches
//     it off; the tests end what they start themselves.
//   - In a place that has /.dockerenv the library takes the gateway of the
//     network for the engine's address. That is right when the engine is
//     outside. An engine that runs beside the tests in the same place is known
//     by its bridge, which is then an interface here, and publishes its ports
//     on this very host.
//
// The version of the engine's interface needs no setting: the client asks, and
// goes down to 1.41 (engine 20.10) when it must.
//
// The functions of this package call it; whoever uses the library directly
// calls it, or [RequireEngine], before.
func PrepareEngine() error {
	return prepare()
}

var prepare = sync.OnceValue(func() error {
	defaults := map[string]string{"TESTCONTAINERS_RYUK_DISABLED": "true"}
	if _, err := net.InterfaceByName("docker0"); err == nil {
		defaults["TESTCONTAINERS_HOST_OVERRIDE"] = "127.0.0.1"
	}
	for name, value := range defaults {
		if _, given := os.LookupEnv(name); given { //nolint:forbidigo // a setting of the tests, not of the service
			continue
		}
		if err := os.Setenv(name, value); err != nil {
			return fmt.Errorf("prepare the container library: %w", err)
		}
	}
	return nil
})

// engine returns the address of the Docker engine, or says why none answers;
// it is asked once.
var engine = sync.OnceValues(func() (string, error) {
	if err := PrepareEngine(); err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	provider, err := testcontainers.NewDockerProvider()
	if err != nil {
		return "", fmt.Errorf("%w: no Docker engine answers: %w", errAbsent, err)
	}
	address := provider.Client().DaemonHost()
	if err := errors.Join(provider.Health(ctx), provider.Close()); err != nil {
		return "", fmt.Errorf("%w: no Docker engine answers at %s: %w", errAbsent, address, err)
	}
	return address, nil
})

// RequireEngine prepares the container library and skips the test without a
// Docker engine, or fails it where there has to be one.
func RequireEngine(tb testing.TB) {
	tb.Helper()
	if _, err := engine(); err != nil {
		giveUp(tb, err)
	}
}

// giveUp ends a test that has nothing to work on for this reason.
func giveUp(tb testing.TB, err error) {
	tb.Helper()
	skip, message := verdict(err, requirement(setting))
	if skip {
		tb.Skip(message)
	}
	tb.Fatal(message)
}

// requirement returns the setting that says that tests may not be skipped for
// want of an engine, as NAME=value, or nothing.
func requirement(setting func(string) string) string {
	for _, name := range []string{"CI", "GREENWEIGHT_REQUIRE_DOCKER"} {
		if value := setting(name); value == "true" || value == "1" {
			return name + "=" + value
		}
	}
	return ""
}

// verdict says whether a test is skipped for this reason or fails, and what is
// then said. Only what is absent excuses, and only where nothing requires it.
func verdict(err error, required string) (skip bool, message string) {
	switch {
	case !errors.Is(err, errAbsent):
		return false, err.Error()
	case required != "":
		return false, fmt.Sprintf("%v; %s says that nothing is skipped for want of it", err, required)
	default:
		return true, fmt.Sprintf("SKIPPED: %v", err)
	}
}

// remedy adds to a reason what can be done about it.
func remedy(err error, advice ...string) error {
	if !errors.Is(err, errAbsent) {
		return err
	}
	return fmt.Errorf("%w\n%s", err, strings.Join(advice, ", or "))
}

package boot

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"greenweight/openapi"
)

// Exit codes of the program.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// healthTimeout is how long a healthcheck waits.
const healthTimeout = 3 * time.Second

// development is the version of a program that was not built as a release.
const development = "development"

// release is set when a release is built: -ldflags "-X greenweight/deploy/boot.release=1.2.3".
var release string

// Version returns the version of the program.
func Version() string {
	if release != "" {
		return release
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return strings.TrimPrefix(info.Main.Version, "v")
	}
	return development
}

// example is an order for the check: 2.5 g of a cure with 6.25 % of sodium
// nitrite for each kilogram of meat, which one of the rulebooks allows and the
// other does not. The formula is invented. It has no quote that a shell minds.
const example = `{"formula":{"name":"Kitchen ring (invented example)","product":"dry-sausage",` +
	`"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
	`"additions":[{"role":"salt","material":"salt-table","rate":{"value":26,"unit":"g_per_kg"}},` +
	`{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}}]},"rulebooks":["us","eu"]}`

const usage = `greenweight computes for makers of dry-cured, fermented sausage, as an HTTP JSON API.

usage: greenweight [command]

  serve         answer requests until interrupted (what it does without a command)
  healthcheck   ask the service at GREENWEIGHT_LISTEN whether it is ready; exit code 0 or 1
  openapi       print the contract; -format yaml (as it is written) or -format json
  version       print the version
  help          print this

Settings are read from the environment:
  GREENWEIGHT_LISTEN           address of the API (127.0.0.1:8080)
  GREENWEIGHT_METRICS_LISTEN   address of the metrics, or off (127.0.0.1:9090)
  GREENWEIGHT_ALLOW_OPEN       true to listen where other machines can reach it (false)
  GREENWEIGHT_LOG_LEVEL        debug, info, warn or error (info)
  GREENWEIGHT_LOG_FORMAT       json or text (json)
  GREENWEIGHT_CORS_ORIGINS     web origins whose pages may read answers, with commas between, or *
  GREENWEIGHT_REQUEST_TIMEOUT  how long one request may take (15s)
  GREENWEIGHT_SHUTDOWN_DELAY   how long to go on after readiness is off (0s)
  GREENWEIGHT_DRAIN_TIMEOUT    how long requests may take to end at shutdown (20s)
`

// Main is the program: args without its name, and an environment such as that
// of os.Environ. It returns the exit code: 0 done, 1 failed, 2 not understood.
// What was asked for goes to stdout, logs and complaints go to stderr.
func Main(ctx context.Context, args, environ []string, stdout, stderr io.Writer) int {
	command := "serve"
	if len(args) > 0 {
		command, args = args[0], args[1:]
	}
	var err error
	switch command {
	case "serve":
		err = noArguments(args, func() error { return serve(ctx, environ, stdout, stderr) })
	case "healthcheck":
		err = noArguments(args, func() error { return healthcheck(ctx, environ) })
	case "openapi":
		err = printContract(args, stdout)
	case "version":
		err = noArguments(args, func() error { return printTo(stdout, Version()+"\n") })
	case "help", "-h", "-help", "--help":
		err = printTo(stdout, usage)
	default:
		err = &usageError{fmt.Sprintf("there is no command %q", command)}
	}
	if err == nil {
		return exitDone
	}
	if _, ok := errors.AsType[*usageError](err); ok {
		_ = printTo(stderr, "greenweight: "+err.Error()+"\n\n"+usage)
		return exitUsage
	}
	_ = printTo(stderr, "greenweight: "+err.Error()+"\n")
	return exitFailed
}

// usageError is a command that is not understood.
type usageError struct{ what string }

// Error says what is not understood.
func (e *usageError) Error() string { return e.what }

func noArguments(args []string, run func() error) error {
	if len(args) > 0 {
		return &usageError{fmt.Sprintf("%q is not understood here", args[0])}
	}
	return run()
}

func printTo(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	return err
}

func serve(ctx context.Context, environ []string, stdout, stderr io.Writer) error {
	cfg, err := ReadConfig(environ)
	if err != nil {
		return err
	}
	return Run(ctx, cfg, stdout, stderr)
}

// greet tells people where the service is and how to try it.
func (s *Service) greet(out io.Writer) error {
	metrics := s.MetricsURL()
	if metrics == "" {
		metrics = "none"
	}
	_, err := fmt.Fprintf(out, `greenweight %[1]s
  API            %[2]s
  Documentation  %[2]s/docs
  Metrics        %[3]s

Try it from another terminal:
curl -s %[2]s/v1/formulas/check -H 'Content-Type: application/json' -d '%[4]s'

Ctrl-C stops it.
`, Version(), s.URL(), metrics, example)
	return err
}

// healthcheck returns nil when the service at the address of the settings is
// ready.
func healthcheck(ctx context.Context, environ []string) error {
	cfg, err := ReadConfig(environ)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, healthTimeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+reachable(cfg.Listen)+"/readyz", http.NoBody)
	if err != nil {
		return err
	}
	response, err := (&http.Client{Timeout: healthTimeout}).Do(req)
	if err != nil {
		return fmt.Errorf("the service is not ready: %w", err)
	}
	if err := response.Body.Close(); err != nil {
		return err
	}
	if response.StatusCode != http.StatusOK {
		return fmt.Errorf("the service is not ready: status %d", response.StatusCode)
	}
	return nil
}

// printContract writes the contract in one of its forms.
func printContract(args []string, stdout io.Writer) error {
	flags := flag.NewFlagSet("openapi", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	format := flags.String("format", "yaml", "")
	if err := flags.Parse(args); err != nil {
		return &usageError{err.Error()}
	}
	if flags.NArg() > 0 {
		return &usageError{fmt.Sprintf("%q is not understood here", flags.Arg(0))}
	}
	switch *format {
	case "yaml":
		source, err := openapi.Source()
		if err != nil {
			return err
		}
		return printTo(stdout, string(source))
	case formatJSON:
		document, err := openapi.Document()
		if err != nil {
			return err
		}
		return openapi.WriteJSON(stdout, document)
	}
	return &usageError{fmt.Sprintf("there is no format %q, only yaml and json", *format)}
}

// Package boot makes the program: it reads the settings, builds the service,
// listens, and shuts down in order. It is the one place where the clock, the
// environment and the network come in.
//
// [Main] is the program with its subcommands. [Open] and [Service.Serve] start
// the service inside a test.
package boot

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/google/uuid"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"greenweight/api"
	"greenweight/service/formulas"
	"greenweight/service/lots"
	"greenweight/service/shops"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

const (
	readHeaderTimeout = 5 * time.Second
	idleTimeout       = 90 * time.Second
	// writeAllowance is what a slow reader gets for its answer, on top of the
	// time of the request.
	writeAllowance = 30 * time.Second
	maxHeaderBytes = 64 << 10
)

// readyTimeout is how long the store may take to tell that it is well.
const readyTimeout = 2 * time.Second

// Service is a service that listens.
type Service struct {
	cfg      Config
	log      *slog.Logger
	ready    atomic.Bool
	well     atomic.Bool // the store was, when readiness was last asked for
	store    *sqlstore.Store
	api      *endpoint
	metrics  *endpoint // nil without metrics
	demo     *demo     // what was filled in; nil without
	warnings []string
}

// endpoint is an HTTP server with its listener.
type endpoint struct {
	server   *http.Server
	listener net.Listener
}

// Open opens the store, builds the service and listens; requests are answered
// from [Service.Serve] on. Logs go to logs. It returns an error that says what to
// do when the store can't be used, when others could reach the service and no
// key was made, and when an address is taken. Where the address of the metrics is
// taken it returns an error only if the settings name it: a newcomer whose machine
// has something at the default port gets the service without metrics, and a
// warning in the log.
func Open(ctx context.Context, cfg Config, logs io.Writer) (_ *Service, err error) {
	s := &Service{cfg: cfg, log: slog.New(logHandler(cfg, logs))}
	s.well.Store(true)
	if s.store, err = openStore(ctx, cfg, s.log); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.closeAll())
		}
	}()
	tenants, err := prepareShops(ctx, cfg, s.store)
	if err != nil {
		return nil, err
	}
	if err := s.mayListen(ctx, tenants); err != nil {
		return nil, err
	}
	keeper, err := keepLots(ctx, s.store, time.Now)
	if err != nil {
		return nil, naming(cfg, err)
	}
	saver, err := keepFormulas(ctx, s.store, time.Now)
	if err != nil {
		return nil, naming(cfg, err)
	}
	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	handler, err := api.New(api.Config{
		Clock:      time.Now,
		Formulas:   saver,
		Lots:       keeper,
		Shops:      tenants,
		OpenShop:   isLoopback(cfg.Listen),
		Version:    Version(),
		Ready:      s.whyNotReady,
		Logger:     s.log,
		Registerer: registry,
		Origins:    cfg.CORSOrigins,
		Timeout:    cfg.RequestTimeout,
	})
	if err != nil {
		return nil, err
	}
	if s.api, err = s.listen(cfg.Listen, "LISTEN", handler); err != nil {
		return nil, err
	}
	if address := s.api.listener.Addr(); isLoopback(cfg.Listen) && !isLoopback(address.String()) {
		return nil, fmt.Errorf("%sLISTEN is %s, which is %s on this machine, and other machines may reach that; name 127.0.0.1",
			prefix, cfg.Listen, address)
	}
	if err := s.listenForMetrics(registry); err != nil {
		return nil, err
	}
	if cfg.Demo {
		if s.demo, err = fillDemo(ctx, s.store, time.Now()); err != nil {
			return nil, naming(cfg, err)
		}
	}
	return s, nil
}

// keepLots returns what keeps lots, by a clock.
func keepLots(ctx context.Context, st store.Store, clock func() time.Time) (*lots.Service, error) {
	return lots.New(ctx, lots.Settings{Store: st, Clock: clock, NewID: newID, Read: api.ReadEntry})
}

// keepFormulas returns what keeps formulas, by a clock.
func keepFormulas(ctx context.Context, st store.Store, clock func() time.Time) (*formulas.Service, error) {
	return formulas.New(ctx, formulas.Settings{Store: st, Clock: clock, NewID: newID})
}

// newID makes an id. It fails only where there is no randomness, and then nothing
// works.
func newID() string { return uuid.Must(uuid.NewV7()).String() }

// mayListen returns an error for an address that others can reach while no key
// was made, unless that is meant.
func (s *Service) mayListen(ctx context.Context, tenants *shops.Service) error {
	if isLoopback(s.cfg.Listen) {
		return nil
	}
	keyed, err := tenants.Keyed(ctx)
	if err != nil || keyed || s.cfg.AllowOpen {
		return err
	}
	return fmt.Errorf("%[1]sLISTEN is %[2]q, which other machines can reach, but there is no key yet in the store (%[3]s). One of these helps:\n"+
		"  greenweight keys add --person \"Your name\" --name \"What it is for\"   makes a key; set the same %[1]sDATABASE for it\n"+
		"  %[1]sALLOW_OPEN=true   lets all who reach the service calculate; lots need a key all the same\n"+
		"  %[1]sLISTEN=127.0.0.1:8080   is for this machine alone",
		prefix, s.cfg.Listen, placeOf(s.cfg.Database))
}

// whyNotReady returns nil while the service takes requests and its store is
// well. What is wrong with the store goes to the log, once each time.
func (s *Service) whyNotReady(ctx context.Context) error {
	if !s.ready.Load() {
		return errors.New("the service is starting or shutting down")
	}
	ctx, cancel := context.WithTimeout(ctx, readyTimeout)
	defer cancel()
	err := s.store.Check(ctx)
	switch was := s.well.Swap(err == nil); {
	case err == nil && !was:
		s.log.Info("the store can be used again")
	case err != nil && was:
		s.log.Warn("the store can't be used", slog.String("cause", err.Error()))
	}
	if err != nil {
		return errors.New("the store can't be used now")
	}
	return nil
}

// listenForMetrics opens the address of the metrics, if there are to be any.
func (s *Service) listenForMetrics(registry *prometheus.Registry) error {
	if s.cfg.MetricsListen == off {
		return nil
	}
	metrics := http.NewServeMux()
	metrics.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{Registry: registry}))
	var err error
	s.metrics, err = s.listen(s.cfg.MetricsListen, "METRICS_LISTEN", metrics)
	if err != nil && !s.cfg.metricsWanted {
		s.warnings = append(s.warnings, "there are no metrics: "+err.Error())
		return nil
	}
	return err
}

// closeAll gives back what was opened.
func (s *Service) closeAll() error {
	var errs []error
	for _, e := range []*endpoint{s.api, s.metrics} {
		if e != nil {
			errs = append(errs, e.listener.Close())
		}
	}
	return errors.Join(append(errs, s.store.Close())...)
}

// listen opens an address; setting is what it is set by.
func (s *Service) listen(address, setting string, handler http.Handler) (*endpoint, error) {
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("another program listens on %s; stop it, or set %s%s to another address, such as 127.0.0.1:0 "+
			"for any free port", address, prefix, setting)
	}
	if err != nil {
		return nil, fmt.Errorf("listen on %s, which is set by %s%s: %w", address, prefix, setting, err)
	}
	return &endpoint{listener: listener, server: &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: readHeaderTimeout,
		ReadTimeout:       readHeaderTimeout + s.cfg.RequestTimeout,
		WriteTimeout:      s.cfg.RequestTimeout + writeAllowance,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    maxHeaderBytes,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}}, nil
}

// URL returns the base URL of the API, with the port that was taken.
func (s *Service) URL() string { return "http://" + reachable(s.api.listener.Addr().String()) }

// MetricsURL returns where the metrics are; "" when there are none.
func (s *Service) MetricsURL() string {
	if s.metrics == nil {
		return ""
	}
	return "http://" + reachable(s.metrics.listener.Addr().String()) + "/metrics"
}

// reachable returns an address that this machine can dial, for one that may
// stand for all of its addresses.
func reachable(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	ip, err := netip.ParseAddr(host)
	if host == "" || err == nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}

// Serve answers requests until ctx ends. Then readiness is off, the service goes
// on for the delay that is set, closes its listeners, lets what has begun come
// to its end, closes the store, and only then returns: nil, or an error when
// something had to be cut off or a listener failed. Serve is called once.
func (s *Service) Serve(ctx context.Context) error {
	failed := make(chan error, 2)
	start := func(e *endpoint) {
		go func() {
			if err := e.server.Serve(e.listener); !errors.Is(err, http.ErrServerClosed) {
				failed <- fmt.Errorf("serve %s: %w", e.listener.Addr(), err)
			}
		}()
	}
	start(s.api)
	if s.metrics != nil {
		start(s.metrics)
	}
	for _, name := range s.cfg.unknown {
		s.log.Warn("this is not a setting", slog.String("name", name))
	}
	for _, warning := range s.warnings {
		s.log.Warn(warning)
	}
	s.ready.Store(true)
	s.log.Info("serving", slog.String("url", s.URL()), slog.String("version", Version()), slog.Any("settings", s.cfg))

	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	s.ready.Store(false)
	s.log.Info("shutting down", slog.String("delay", s.cfg.ShutdownDelay.String()))
	if err == nil && s.cfg.ShutdownDelay > 0 {
		delay := time.NewTimer(s.cfg.ShutdownDelay)
		defer delay.Stop()
		select {
		case <-delay.C:
		case err = <-failed:
		}
	}
	err = errors.Join(err, s.drain(context.WithoutCancel(ctx)), s.store.Close())
	s.log.Info("stopped")
	return err
}

// drain closes the listeners and waits for what has begun. The metrics stay to
// the end.
func (s *Service) drain(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, s.cfg.DrainTimeout)
	defer cancel()
	err := s.api.close(ctx)
	if s.metrics != nil {
		err = errors.Join(err, s.metrics.close(ctx))
	}
	return err
}

func (e *endpoint) close(ctx context.Context) error {
	err := e.server.Shutdown(ctx)
	if err == nil {
		return nil
	}
	return errors.Join(fmt.Errorf("requests were cut off: %w", err), e.server.Close())
}

// Run opens the service, tells people on out where it is, and serves until ctx
// ends and everything has drained.
func Run(ctx context.Context, cfg Config, out, logs io.Writer) error {
	s, err := Open(ctx, cfg, logs)
	if err != nil {
		return err
	}
	if err := s.greet(out); err != nil {
		s.log.Warn("the greeting could not be written", slog.String("cause", err.Error()))
	}
	return s.Serve(ctx)
}

func logHandler(cfg Config, logs io.Writer) slog.Handler {
	options := &slog.HandlerOptions{Level: cfg.LogLevel}
	if cfg.LogFormat == formatText {
		return slog.NewTextHandler(logs, options)
	}
	return slog.NewJSONHandler(logs, options)
}

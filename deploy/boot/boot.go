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

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"greenweight/api"
)

const (
	readHeaderTimeout = 5 * time.Second
	idleTimeout       = 90 * time.Second
	// writeAllowance is what a slow reader gets for its answer, on top of the
	// time of the request.
	writeAllowance = 30 * time.Second
	maxHeaderBytes = 64 << 10
)

// Service is a service that listens.
type Service struct {
	cfg      Config
	log      *slog.Logger
	ready    atomic.Bool
	api      *endpoint
	metrics  *endpoint // nil without metrics
	warnings []string
}

// endpoint is an HTTP server with its listener.
type endpoint struct {
	server   *http.Server
	listener net.Listener
}

// Open builds the service and listens; requests are answered from
// [Service.Serve] on. Logs go to logs. It returns an error that says what to do
// when an address is taken. Where the address of the metrics is taken it
// returns an error only if the settings name it: a newcomer whose machine has
// something at the default port gets the service without metrics, and a warning
// in the log.
func Open(cfg Config, logs io.Writer) (*Service, error) {
	s := &Service{cfg: cfg, log: slog.New(logHandler(cfg, logs))}
	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	handler, err := api.New(api.Config{
		Clock:      time.Now,
		Version:    Version(),
		Ready:      s.ready.Load,
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
	if cfg.MetricsListen == off {
		return s, nil
	}
	metrics := http.NewServeMux()
	metrics.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{Registry: registry}))
	s.metrics, err = s.listen(cfg.MetricsListen, "METRICS_LISTEN", metrics)
	switch {
	case err == nil:
	case cfg.metricsWanted:
		return nil, errors.Join(err, s.api.listener.Close())
	default:
		s.warnings = append(s.warnings, "there are no metrics: "+err.Error())
	}
	return s, nil
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
// to its end, and only then returns: nil, or an error when something had to be
// cut off or a listener failed. Serve is called once.
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
	err = errors.Join(err, s.drain(context.WithoutCancel(ctx)))
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
	s, err := Open(cfg, logs)
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

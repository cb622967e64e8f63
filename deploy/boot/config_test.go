package boot

import (
	"errors"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestReadConfig(t *testing.T) {
	t.Parallel()
	defaults := Config{
		Listen: "127.0.0.1:8080", MetricsListen: "127.0.0.1:9090", LogLevel: slog.LevelInfo, LogFormat: "json",
		RequestTimeout: 15 * time.Second, DrainTimeout: 20 * time.Second,
	}
	with := func(change func(*Config)) Config {
		cfg := defaults
		change(&cfg)
		return cfg
	}
	for _, tc := range []struct {
		name    string
		environ []string
		want    Config
	}{
		{"nothing set", nil, defaults},
		{"other programs' settings", []string{"LISTEN=nonsense", "PATH=/bin"}, defaults},
		{"all set", []string{
			"GREENWEIGHT_LISTEN=0.0.0.0:80", "GREENWEIGHT_METRICS_LISTEN=:9000", "GREENWEIGHT_ALLOW_OPEN=true", "GREENWEIGHT_LOG_LEVEL=debug",
			"GREENWEIGHT_LOG_FORMAT=text", "GREENWEIGHT_CORS_ORIGINS=https://shop.example,http://localhost:5173",
			"GREENWEIGHT_REQUEST_TIMEOUT=30s", "GREENWEIGHT_SHUTDOWN_DELAY=5s", "GREENWEIGHT_DRAIN_TIMEOUT=1m",
		}, Config{
			Listen: "0.0.0.0:80", MetricsListen: ":9000", AllowOpen: true, LogLevel: slog.LevelDebug, LogFormat: "text",
			CORSOrigins: []string{"https://shop.example", "http://localhost:5173"}, RequestTimeout: 30 * time.Second,
			ShutdownDelay: 5 * time.Second, DrainTimeout: time.Minute, metricsWanted: true,
		}},
		{"loopback by name", []string{"GREENWEIGHT_LISTEN=localhost:0"}, with(func(c *Config) { c.Listen = "localhost:0" })},
		{"loopback of IPv6", []string{"GREENWEIGHT_LISTEN=[::1]:8080"}, with(func(c *Config) { c.Listen = "[::1]:8080" })},
		{"another loopback", []string{"GREENWEIGHT_LISTEN=127.8.8.8:8080"}, with(func(c *Config) { c.Listen = "127.8.8.8:8080" })},
		{"no metrics", []string{"GREENWEIGHT_METRICS_LISTEN=off"}, with(func(c *Config) { c.MetricsListen = "off"; c.metricsWanted = true })},
		{"every origin", []string{"GREENWEIGHT_CORS_ORIGINS=*"}, with(func(c *Config) { c.CORSOrigins = []string{"*"} })},
		{"misspelt", []string{"GREENWEIGHT_LISTN=x", "GREENWEIGHT_A=1"}, with(func(c *Config) { c.unknown = []string{"GREENWEIGHT_A", "GREENWEIGHT_LISTN"} })},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := ReadConfig(tc.environ)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tc.want, got, cmp.AllowUnexported(Config{}), cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("settings (-want +got):\n%s", diff)
			}
		})
	}
}

// Each bad setting is named, all of them at once.
func TestReadConfigRefuses(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name    string
		environ []string
		want    []string // the setting that each line begins with
	}{
		{"open to the world", []string{"LISTEN=0.0.0.0:8080"}, []string{"LISTEN"}},
		{"open by an empty host", []string{"LISTEN=:8080"}, []string{"LISTEN"}},
		{"open to IPv6", []string{"LISTEN=[::]:8080"}, []string{"LISTEN"}},
		{"open to the network", []string{"LISTEN=192.168.1.7:8080"}, []string{"LISTEN"}},
		{"open by name", []string{"LISTEN=localhost.example:8080"}, []string{"LISTEN"}},
		{"open, and not meant to be", []string{"LISTEN=:8080", "ALLOW_OPEN=false"}, []string{"LISTEN"}},
		{"no port", []string{"LISTEN=127.0.0.1"}, []string{"LISTEN"}},
		{"port too large", []string{"LISTEN=127.0.0.1:65536"}, []string{"LISTEN"}},
		{"port by name", []string{"LISTEN=127.0.0.1:http"}, []string{"LISTEN"}},
		{"origin with a path", []string{"CORS_ORIGINS=https://shop.example/"}, []string{"CORS_ORIGINS"}},
		{"origin with a wildcard", []string{"CORS_ORIGINS=https://*.example"}, []string{"CORS_ORIGINS"}},
		{"origin without a scheme", []string{"CORS_ORIGINS=shop.example"}, []string{"CORS_ORIGINS"}},
		{"time without a unit", []string{"REQUEST_TIMEOUT=15"}, []string{"REQUEST_TIMEOUT"}},
		{"negative time", []string{"SHUTDOWN_DELAY=-1s"}, []string{"SHUTDOWN_DELAY"}},
		{"all at once", []string{
			"LISTEN=nowhere", "METRICS_LISTEN=off!", "ALLOW_OPEN=perhaps", "LOG_LEVEL=loud", "LOG_FORMAT=xml", "CORS_ORIGINS=https://a.example,b",
			"REQUEST_TIMEOUT=1ms", "SHUTDOWN_DELAY=soon", "DRAIN_TIMEOUT=1h",
		}, []string{
			"ALLOW_OPEN", "CORS_ORIGINS", "DRAIN_TIMEOUT", "LISTEN", "LOG_FORMAT", "LOG_LEVEL", "METRICS_LISTEN", "REQUEST_TIMEOUT", "SHUTDOWN_DELAY",
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var environ []string
			for _, setting := range tc.environ {
				environ = append(environ, prefix+setting)
			}
			_, err := ReadConfig(environ)
			wrong, ok := errors.AsType[*SettingsError](err)
			if !ok {
				t.Fatalf("error is %v, want a *SettingsError", err)
			}
			var got []string
			for _, line := range wrong.Problems {
				name, _, _ := strings.Cut(strings.TrimPrefix(line, prefix), " ")
				got = append(got, name)
			}
			slices.Sort(got)
			if diff := cmp.Diff(tc.want, got); diff != "" {
				t.Errorf("settings at fault (-want +got):\n%s%v", diff, err)
			}
		})
	}
}

// The help names every setting with its default, and no other.
func TestUsageNamesSettings(t *testing.T) {
	t.Parallel()
	defaults, err := ReadConfig(nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for line := range strings.Lines(usage) {
		if name, ok := strings.CutPrefix(line, "  "+prefix); ok {
			name, _, _ = strings.Cut(name, " ")
			got = append(got, prefix+name)
		}
	}
	if diff := cmp.Diff(settingNames(), got, cmpopts.SortSlices(strings.Compare)); diff != "" {
		t.Errorf("settings, and those of the help (-want +got):\n%s", diff)
	}
	for _, value := range []string{defaults.Listen, defaults.MetricsListen, defaults.LogFormat, "15s", "0s", "20s"} {
		if !strings.Contains(usage, "("+value+")") {
			t.Errorf("the help lacks the default %s", value)
		}
	}
}

// The log gets each setting once.
func TestLogValue(t *testing.T) {
	t.Parallel()
	cfg, err := ReadConfig(nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, attr := range cfg.LogValue().Group() {
		got = append(got, prefix+strings.ToUpper(attr.Key))
	}
	if diff := cmp.Diff(settingNames(), got, cmpopts.SortSlices(strings.Compare)); diff != "" {
		t.Errorf("settings, and those of the log (-want +got):\n%s", diff)
	}
}

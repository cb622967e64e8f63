package pgtest

import (
	"errors"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What is found, and what is asked for it: an engine that is not needed must
// not be asked, and an image that is not needed not be built.
func TestFind(t *testing.T) {
	t.Parallel()
	broken := errors.New("the build broke")
	absent := fmt.Errorf("%w: not installed", errAbsent)
	tests := []struct {
		name          string
		server, image string
		engine, build error
		want          place
		asked         string
		absent        bool
		err           error
	}{
		{name: "a server is given", server: "postgres://there", want: place{server: "postgres://there"}},
		{name: "a server goes before an image", server: "postgres://there", image: "postgres:17", want: place{server: "postgres://there"}},
		{name: "a public image", image: "postgres:17", want: place{image: "postgres:17"}, asked: "engine "},
		{name: "an image of our own", want: place{image: "localhost/built"}, asked: "engine build "},
		{name: "no engine", engine: absent, asked: "engine ", absent: true, err: absent},
		{name: "no engine for a public image", image: "postgres:17", engine: absent, asked: "engine ", absent: true, err: absent},
		{name: "an engine that cannot be prepared", engine: broken, asked: "engine ", err: broken},
		{name: "nothing to build with", build: absent, asked: "engine build ", absent: true, err: absent},
		{name: "a build that breaks", build: broken, asked: "engine build ", err: broken},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var asked string
			got, err := choice{
				server: test.server,
				image:  test.image,
				engine: func() (string, error) { asked += "engine "; return "unix:///there", test.engine },
				build:  func() (string, error) { asked += "build "; return "localhost/built", test.build },
			}.find()
			if diff := cmp.Diff(test.want, got, cmp.AllowUnexported(place{})); diff != "" {
				t.Errorf("found (-want +got):\n%s", diff)
			}
			if asked != test.asked {
				t.Errorf("asked for %q, want %q", asked, test.asked)
			}
			if !errors.Is(err, test.err) || errors.Is(err, errAbsent) != test.absent {
				t.Errorf("error %v, want %v, absent: %t", err, test.err, test.absent)
			}
		})
	}
}

// A test is skipped only for what is absent, and only where nothing requires
// it.
func TestVerdict(t *testing.T) {
	t.Parallel()
	absent := fmt.Errorf("%w: no engine", errAbsent)
	broken := errors.New("the server ended")
	tests := []struct {
		name        string
		environment map[string]string
		err         error
		skip        bool
		message     string
	}{
		{name: "absent", err: absent, skip: true, message: "SKIPPED: there is nothing to test on: no engine"},
		{
			name: "absent, and CI requires it", environment: map[string]string{"CI": "true"}, err: absent,
			message: "there is nothing to test on: no engine; CI=true says that nothing is skipped for want of it",
		},
		{
			name: "absent, and a setting of ours requires it", environment: map[string]string{"GREENWEIGHT_REQUIRE_DOCKER": "1"}, err: absent,
			message: "there is nothing to test on: no engine; GREENWEIGHT_REQUIRE_DOCKER=1 says that nothing is skipped for want of it",
		},
		{
			name: "CI may do without, and our setting not", environment: map[string]string{"CI": "false", "GREENWEIGHT_REQUIRE_DOCKER": "true"},
			err:     absent,
			message: "there is nothing to test on: no engine; GREENWEIGHT_REQUIRE_DOCKER=true says that nothing is skipped for want of it",
		},
		{
			name: "absent, and CI does without", environment: map[string]string{"CI": "false", "GREENWEIGHT_REQUIRE_DOCKER": "0"}, err: absent,
			skip: true, message: "SKIPPED: there is nothing to test on: no engine",
		},
		{name: "broken", err: broken, message: "the server ended"},
		{name: "broken in CI", environment: map[string]string{"CI": "true"}, err: broken, message: "the server ended"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			skip, message := verdict(test.err, requirement(func(name string) string { return test.environment[name] }))
			if skip != test.skip {
				t.Errorf("skipped: %t, want %t", skip, test.skip)
			}
			if diff := cmp.Diff(test.message, message); diff != "" {
				t.Errorf("said (-want +got):\n%s", diff)
			}
		})
	}
}

func TestRename(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, dsn, want string
		refused         bool
	}{
		{name: "a database", dsn: "postgres://u%40v@host:5433/app?sslmode=disable", want: "postgres://u%40v@host:5433/other?sslmode=disable"},
		{name: "no database", dsn: "postgresql://host", want: "postgresql://host/other"},
		{name: "a socket", dsn: "postgres://u@/app?host=/run/postgresql", want: "postgres://u@/other?host=/run/postgresql"},
		{name: "words", dsn: "host=localhost dbname=app", refused: true},
		{name: "another engine", dsn: "mysql://host/app", refused: true},
		{name: "a parameter that would win over the path", dsn: "postgres://host/app?dbname=app", refused: true},
		{name: "no URL", dsn: "postgres://host:port:port/%", refused: true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			got, err := rename(test.dsn, "other")
			if (err != nil) != test.refused || got != test.want {
				t.Errorf("got %q, error %v; want %q, refused: %t", got, err, test.want, test.refused)
			}
		})
	}
}

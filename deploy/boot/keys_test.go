package boot

import (
	"errors"
	"io"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/service/store"
)

// uuidText is how ids are printed.
var uuidText = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)

// A key is made, used, listed and revoked while the service runs.
func TestKeysWhileServing(t *testing.T) {
	t.Parallel()
	dsn := file(t)
	environ := []string{prefix + "DATABASE=" + dsn}
	s, _ := start(t, io.Discard, environ...)

	var stdout, stderr output
	if code := Main(t.Context(), []string{"keys", "add", "--person", "R. Invented", "--name", "Cold room scale", "--scopes", "lots:read, lots:record",
		"--expires", "720h"}, environ, &stdout, &stderr); code != exitDone {
		t.Fatalf("exit code is %d:\n%s", code, &stderr)
	}
	if !regexp.MustCompile(`^gwk_[A-Za-z0-9_-]{43}\n$`).MatchString(stdout.String()) {
		t.Fatal("stdout is not the key alone on a line")
	}
	key := strings.TrimSpace(stdout.String())
	told := stderr.String()
	for _, want := range []string{"R. Invented", "lots:read, lots:record", "expires at", at(dsn), string(store.FirstShop), "Authorization: Bearer"} {
		if !strings.Contains(told, want) {
			t.Errorf("people are not told of %q:\n%s", want, told)
		}
	}
	if strings.Contains(told, key) {
		t.Error("the key is shown twice")
	}
	id := uuidText.FindString(told)
	if got := ask(t, s.URL()+"/v1/lots", key); got != http.StatusOK {
		t.Errorf("with the key: %d", got)
	}

	list := run(t, environ, "keys", "list")
	row := regexp.MustCompile(`(?m)^` + id + ` +R\. Invented +Cold room scale +lots:read,lots:record +\S+Z +good until \S+Z$`)
	if strings.Count(list, "\n") != 2 || !row.MatchString(list) || strings.Contains(list, key) {
		t.Errorf("the list is not of the one key:\n%s", list)
	}
	run(t, environ, "keys", "revoke", id)
	if got := ask(t, s.URL()+"/v1/lots", key); got != http.StatusUnauthorized {
		t.Errorf("with the key that was revoked: %d", got)
	}
	if got := ask(t, s.URL()+"/v1/lots", ""); got != http.StatusUnauthorized {
		t.Errorf("without a key after the only one was revoked: %d", got)
	}
	if list := run(t, environ, "keys", "list"); !strings.Contains(list, "revoked at ") {
		t.Errorf("the list does not tell that the key was revoked:\n%s", list)
	}
}

// A key of one shop sees nothing of another.
func TestShops(t *testing.T) {
	t.Parallel()
	environ := []string{prefix + "DATABASE=" + file(t)}
	shop := run(t, environ, "keys", "add-shop", "--name", "Cellar (invented)")
	if shop != uuidText.FindString(shop)+"\n" {
		t.Fatalf("stdout is not the id alone on a line: %q", shop)
	}
	shop = strings.TrimSpace(shop)
	list := run(t, environ, "keys", "shops")
	if !regexp.MustCompile(`(?m)^` + string(store.FirstShop) + ` +Home +\S+Z\n` + shop + ` +Cellar \(invented\) +\S+Z$`).MatchString(list) {
		t.Errorf("the shops are listed as:\n%s", list)
	}
	run(t, environ, "keys", "add", "--shop", shop, "--person", "R. Invented", "--name", "Scale")
	if got := run(t, environ, "keys", "list"); strings.Count(got, "\n") != 1 {
		t.Errorf("the first shop has keys of another:\n%s", got)
	}
	got := run(t, environ, "keys", "list", "--shop", shop)
	if strings.Count(got, "\n") != 2 {
		t.Errorf("the shop has not its one key:\n%s", got)
	}
	// Flags may stand before and behind the id.
	id := uuidText.FindString(got)
	run(t, environ, "keys", "revoke", "--shop="+shop, id)
	run(t, environ, "keys", "revoke", id, "--shop", shop)
}

// Mistakes are told with exit code 2 when they are of the command, 1 otherwise,
// and nothing is made.
func TestKeysRefuse(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name string
		args []string
		code int
		want []string
	}{
		{"no command", []string{"keys"}, 2, []string{"add, list, revoke, shops or add-shop", "usage:"}},
		{"unknown command", []string{"keys", "make"}, 2, []string{`"make"`}},
		{"unknown flag", []string{"keys", "add", "--persn", "x"}, 2, []string{"keys add", "persn"}},
		{"argument too many", []string{"keys", "list", "x"}, 2, []string{`"x" is not understood`}},
		{"two ids", []string{"keys", "revoke", "a", "b"}, 2, []string{`"b" is not understood`}},
		{"no id", []string{"keys", "revoke"}, 2, []string{"keys list"}},
		{"no unit", []string{"keys", "add", "--person", "a", "--name", "b", "--expires", "30"}, 2, []string{"expires"}},
		{"nobody, for nothing", []string{"keys", "add"}, 1, []string{"person is needed", "name is needed"}},
		{"unknown scope", []string{"keys", "add", "--person", "a", "--name", "b", "--scopes", "lots:read,lots:burn"}, 1, []string{`"lots:burn" is no scope`, "lots:correct"}},
		{"expired already", []string{"keys", "add", "--person", "a", "--name", "b", "--expires", "-1h"}, 1, []string{"in the future"}},
		{"no such shop", []string{"keys", "add", "--person", "a", "--name", "b", "--shop", "cellar"}, 1, []string{`no shop with the id "cellar"`}},
		{"keys of no shop", []string{"keys", "list", "--shop", "cellar"}, 1, []string{`no shop with the id "cellar"`}},
		{"no such key", []string{"keys", "revoke", "x"}, 1, []string{`no key with the id "x"`}},
		{"a shop without a name", []string{"keys", "add-shop"}, 1, []string{"name is needed"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			dsn := made(t)
			var stdout, stderr output
			if code := Main(t.Context(), tc.args, []string{prefix + "DATABASE=" + dsn}, &stdout, &stderr); code != tc.code {
				t.Errorf("exit code is %d, want %d", code, tc.code)
			}
			for _, want := range tc.want {
				if !strings.Contains(stderr.String(), want) {
					t.Errorf("the message lacks %q:\n%.600s", want, &stderr)
				}
			}
			if stdout.String() != "" {
				t.Errorf("stdout has %q", &stdout)
			}
			if got := run(t, []string{prefix + "DATABASE=" + dsn}, "keys", "list"); strings.Count(got, "\n") != 1 {
				t.Errorf("a key was made all the same:\n%s", got)
			}
		})
	}
}

// Looking at the keys of a store that is not there makes none.
func TestKeysOfNoStore(t *testing.T) {
	t.Parallel()
	dsn := file(t)
	for _, args := range [][]string{{"keys", "list"}, {"keys", "shops"}, {"keys", "revoke", "x"}} {
		var stderr output
		if code := Main(t.Context(), args, []string{prefix + "DATABASE=" + dsn}, io.Discard, &stderr); code != exitFailed {
			t.Errorf("%v: exit code is %d, want 1", args, code)
		}
		if !strings.Contains(stderr.String(), at(dsn)) {
			t.Errorf("%v: the message does not name the file:\n%s", args, &stderr)
		}
		if _, err := os.Stat(at(dsn)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%v: there is a store now: %v", args, err)
		}
	}
}

// full can't be written to.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

// A key that nobody has seen is told of, so that it can be revoked.
func TestKeyThatIsNotSeen(t *testing.T) {
	t.Parallel()
	dsn := file(t)
	var stderr output
	code := Main(t.Context(), []string{"keys", "add", "--person", "a", "--name", "b"}, []string{prefix + "DATABASE=" + dsn}, full{}, &stderr)
	id := uuidText.FindString(stderr.String())
	if code != exitFailed || !strings.Contains(stderr.String(), "revoke") || strings.Contains(stderr.String(), "gwk_") {
		t.Errorf("exit code is %d:\n%s", code, &stderr)
	}
	run(t, []string{prefix + "DATABASE=" + dsn}, "keys", "revoke", id)
}

func TestKeyState(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)
	for _, tc := range []struct {
		name string
		key  store.Key
		want string
	}{
		{"for good", store.Key{}, "good"},
		{"for an hour", store.Key{ExpiresAt: now.Add(time.Hour)}, "good until 2026-11-02T13:00:00Z"},
		{"until now", store.Key{ExpiresAt: now}, "expired at 2026-11-02T12:00:00Z"},
		{"revoked, and expired since", store.Key{ExpiresAt: now, RevokedAt: now.Add(-time.Hour)}, "revoked at 2026-11-02T11:00:00Z"},
	} {
		if diff := cmp.Diff(tc.want, keyState(tc.key, now)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
	}
}

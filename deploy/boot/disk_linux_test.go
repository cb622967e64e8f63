package boot

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"greenweight/service/store/sqlstore"
)

// disk returns a folder on a disk of its own, which needs root.
func disk(t *testing.T, options string) string {
	t.Helper()
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, options); err != nil {
		t.Skipf("SKIPPED: a start on such a disk is not tested, as none can be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(folder, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return folder
}

// protect makes a folder one that can't be written. Root may write wherever
// permissions forbid it, so that its folder is a disk.
func protect(t *testing.T, folder string) {
	t.Helper()
	if os.Geteuid() == 0 {
		if err := syscall.Mount("", folder, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
			t.Fatal(err)
		}
		return
	}
	found, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range found {
		if err := os.Chmod(filepath.Join(folder, entry.Name()), 0o400); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(folder, 0o500); err != nil { //nolint:gosec // a folder needs the permission to be searched
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.Chmod(folder, 0o700); err != nil { //nolint:gosec // see above
			t.Error(err)
		}
	})
}

// A disk that can't be written, or has no room, ends the start with exit code 1
// and a message that says what to do.
func TestBadDisk(t *testing.T) {
	t.Parallel()
	writable := func(t *testing.T) string {
		t.Helper()
		if os.Geteuid() == 0 {
			return disk(t, "")
		}
		return t.TempDir()
	}
	for _, tc := range []struct {
		name    string
		prepare func(t *testing.T) (folder string)
		want    []string
	}{
		{"read-only, without a store", func(t *testing.T) string {
			t.Helper()
			folder := writable(t)
			protect(t, folder)
			return folder
		}, []string{"lots.db", "let the program write"}},
		{"read-only, with a store", func(t *testing.T) string {
			t.Helper()
			folder := writable(t)
			if _, _, err := sqlstore.Migrate(t.Context(), "sqlite:"+filepath.Join(folder, "lots.db")); err != nil {
				t.Fatal(err)
			}
			protect(t, folder)
			return folder
		}, []string{"lots.db", "let the program write"}},
		{"no room for a log", func(t *testing.T) string { t.Helper(); return disk(t, "size=40k") }, []string{"lots.db", "make room"}},
		{"no room for the tables", func(t *testing.T) string { t.Helper(); return disk(t, "size=100k") }, []string{"lots.db", "make room"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			wantBadStart(t, "sqlite:"+filepath.Join(tc.prepare(t), "lots.db"), nil, tc.want)
		})
	}
}

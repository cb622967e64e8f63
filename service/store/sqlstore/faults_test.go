package sqlstore

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// failing is the file system of the program on a disk that fails when the test
// says so.
type failing struct {
	fileSystem
	write, sync *atomic.Pointer[error]
}

func (s failing) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	// The disk fails below what tells SQLite of a full one.
	by, is := s.VFS.(vfs.VFSFilename)
	if !is {
		return nil, flags, sqlite3.CANTOPEN
	}
	file, flags, err := by.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	whole, is := file.(wholeFile)
	if !is {
		return nil, flags, errors.Join(sqlite3.CANTOPEN, file.Close())
	}
	return roomFile{failingFile{whole, s}}, flags, nil
}

type failingFile struct {
	wholeFile
	disk failing
}

func (f failingFile) WriteAt(p []byte, at int64) (int, error) {
	if err := f.disk.write.Load(); err != nil {
		return 0, fmt.Errorf("write: %w", *err)
	}
	return f.wholeFile.WriteAt(p, at)
}

func (f failingFile) Sync(flags vfs.SyncFlag) error {
	if err := f.disk.sync.Load(); err != nil {
		return fmt.Errorf("sync: %w", *err)
	}
	return f.wholeFile.Sync(flags)
}

// A disk that fails is told for what it is to everybody in the batch; nothing of
// it is seen, reading goes on, and so does writing once the disk is sound.
func TestFailingDisk(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		write, sync error
		want        error
	}{
		{"no room to write", syscall.ENOSPC, nil, store.ErrFull},
		{"no room in the quota", syscall.EDQUOT, nil, store.ErrFull},
		{"an error on writing", syscall.EIO, nil, store.ErrUnavailable},
		{"an error on syncing", nil, syscall.EIO, store.ErrUncertain},
		{"no room, seen on syncing", nil, syscall.ENOSPC, store.ErrUncertain},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			name := "failing " + c.name
			disk := failing{fileSystem{vfs.Find("")}, &atomic.Pointer[error]{}, &atomic.Pointer[error]{}}
			vfs.Register(name, disk)
			t.Cleanup(func() { vfs.Unregister(name) })
			p := file(t)
			if err := p.open(t, Options{}).Close(); err != nil {
				t.Fatal(err)
			}
			s, err := Open(t.Context(), string(p), Options{driver: []string{"vfs", name}})
			if err != nil {
				t.Fatal(err)
			}
			begun(t, s, 1)
			if _, err := storetest.Once(t.Context(), s, 1, "before"); err != nil {
				t.Fatal(err)
			}
			if c.write != nil {
				disk.write.Store(&c.write)
			}
			if c.sync != nil {
				disk.sync.Store(&c.sync)
			}
			var all sync.WaitGroup
			for n := range 8 {
				all.Go(func() {
					err := set(t.Context(), s, fmt.Sprintf("a%d", n), strings.Repeat("x", 10000))
					if !errors.Is(err, c.want) {
						t.Errorf("want %v, got %v", c.want, err)
					}
				})
			}
			all.Wait()
			for n := range 8 {
				if got := get(t, s, fmt.Sprintf("a%d", n)); got != "" {
					t.Errorf("want nothing of it, got %q…", got[:1])
				}
			}
			disk.write.Store(nil)
			disk.sync.Store(nil)
			if _, err := storetest.Once(t.Context(), s, 1, "after"); err != nil {
				t.Errorf("once the disk is sound: %v", err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			again := opened(t, p, Options{})
			if got := strings.Join(storetest.Kept(t, again, 1), " "); got != "before after" {
				t.Errorf("want before and after, got %s", got)
			}
		})
	}
}

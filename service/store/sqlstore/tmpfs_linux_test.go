package sqlstore

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"

	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// disk mounts a small disk in memory for the length of a test.
func disk(t *testing.T) (folder string) {
	t.Helper()
	folder = t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=1m,mode=700"); err != nil {
		t.Skipf("NOT TESTED: a small disk can be mounted by root only: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(folder, syscall.MNT_DETACH); err != nil {
			t.Errorf("unmount %s: %v", folder, err)
		}
	})
	return folder
}

// fill leaves no room on a disk and returns what makes it again.
func fill(t *testing.T, folder string) (free func()) {
	t.Helper()
	ballast := filepath.Join(folder, "ballast")
	file, err := os.Create(ballast)
	if err != nil {
		t.Fatal(err)
	}
	for err == nil {
		_, err = file.Write(make([]byte, 4096))
	}
	if closed := file.Close(); !errors.Is(err, syscall.ENOSPC) || closed != nil {
		t.Fatalf("fill the disk: %v, %v", err, closed)
	}
	return func() {
		if err := os.Remove(ballast); err != nil {
			t.Error(err)
		}
	}
}

// A full disk is told, takes nothing that was acknowledged, leaves nothing half
// written, and can be written again once there is room.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	folder := disk(t)
	p := place(filePrefix + filepath.Join(folder, "greenweight.db"))
	s := opened(t, p, Options{})
	begun(t, s, 4)
	for round := range 3 {
		before := make([]int, 5)
		for n := int64(1); n <= 4; n++ {
			before[n] = len(storetest.Kept(t, s, n))
		}
		free := fill(t, folder)
		// Until the log has no room left, updates may be kept: count those.
		var mu sync.Mutex
		kept, full := make([]int, 5), 0
		var all sync.WaitGroup
		for n := int64(1); n <= 4; n++ {
			all.Go(func() {
				for i := range 2000 {
					_, err := storetest.Once(t.Context(), s, n, fmt.Sprintf("round %d, lot %d, entry %d", round, n, i))
					mu.Lock()
					switch {
					case err == nil:
						kept[n]++
					case errors.Is(err, store.ErrFull):
						full++
					default:
						t.Errorf("want store.ErrFull, got %v", err)
					}
					mu.Unlock()
					if err != nil {
						return
					}
				}
				t.Error("a full disk never filled")
			})
		}
		all.Wait()
		if full != 4 {
			t.Errorf("want store.ErrFull for each of 4 clients, got it %d times", full)
		}
		// It can be read, and has what was acknowledged and no more.
		for n := int64(1); n <= 4; n++ {
			if got := len(storetest.Kept(t, s, n)); got != before[n]+kept[n] {
				t.Errorf("lot %d: %d were acknowledged, and %d are there", n, before[n]+kept[n], got)
			}
		}
		large := strings.Repeat("x", 1<<20)
		if err := set(t.Context(), s, "large", large); !errors.Is(err, store.ErrFull) {
			t.Errorf("more than the disk holds: want store.ErrFull, got %v", err)
		}
		if err := Backup(t.Context(), string(p), filepath.Join(folder, "backup.db")); !errors.Is(err, store.ErrFull) {
			t.Errorf("backup: want store.ErrFull, got %v", err)
		}
		free()
		if err := set(t.Context(), s, "after", strconv.Itoa(round)); err != nil {
			t.Errorf("once there is room: %v", err)
		}
		if got := get(t, s, "after"); got != strconv.Itoa(round) {
			t.Errorf("want %d, got %s", round, got)
		}
		names, err := filepath.Glob(filepath.Join(folder, "*part*"))
		if err != nil || len(names) != 0 {
			t.Errorf("the backup that failed left %v, %v", names, err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again := opened(t, p, Options{})
	for n := int64(1); n <= 4; n++ {
		storetest.Kept(t, again, n)
	}
}

// A store on a disk that can only be read is refused in plain words.
func TestReadOnlyDisk(t *testing.T) {
	t.Parallel()
	folder := disk(t)
	p := place(filePrefix + filepath.Join(folder, "greenweight.db"))
	if err := p.open(t, Options{}).Close(); err != nil {
		t.Fatal(err)
	}
	remount := func(flags uintptr) {
		t.Helper()
		if err := syscall.Mount("tmpfs", folder, "tmpfs", syscall.MS_REMOUNT|flags, ""); err != nil {
			t.Fatalf("mount anew: %v", err)
		}
	}
	remount(syscall.MS_RDONLY)
	for _, dsn := range []string{string(p), filePrefix + filepath.Join(folder, "another.db")} {
		_, err := Open(t.Context(), dsn, Options{Migrate: true})
		if !errors.Is(err, store.ErrReadOnly) || !strings.Contains(err.Error(), "let the program write to") {
			t.Errorf("%s: want store.ErrReadOnly with advice, got %v", filepath.Base(dsn), err)
		}
	}
	remount(0)
	opened(t, p, Options{})
}

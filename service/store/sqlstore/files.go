package sqlstore

import (
	"sync"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"
)

// files makes the driver use the files of the system by way of fileSystem, and
// returns the name under which it knows it.
var files = sync.OnceValue(func() string {
	const name = "greenweight"
	vfs.Register(name, fileSystem{vfs.Find("")})
	return name
})

// fileSystem is the one of the driver, except that it tells SQLite of a disk
// that has no room: the driver tells of an error on writing, and the cause is
// gone by the time that anybody sees it.
type fileSystem struct{ vfs.VFS }

// OpenFilename implements vfs.VFSFilename.
func (s fileSystem) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	by, is := s.VFS.(vfs.VFSFilename)
	if !is {
		return nil, flags, sqlite3.CANTOPEN
	}
	file, flags, err := by.OpenFilename(name, flags)
	if full(err) {
		err = vfs.SystemError(err, sqlite3.FULL)
	}
	if whole, is := file.(wholeFile); is && err == nil {
		return roomFile{whole}, flags, nil
	}
	return file, flags, err
}

// wholeFile is what a file of the driver can do.
type wholeFile interface {
	vfs.FileLockState
	vfs.FilePersistWAL
	vfs.FilePowersafeOverwrite
	vfs.FileSizeHint
	vfs.FileHasMoved
	vfs.FileSharedMemory
	vfs.FileMemoryMapper
}

// roomFile is a file that says when there is no room for it.
type roomFile struct{ wholeFile }

// WriteAt implements vfs.File.
func (f roomFile) WriteAt(p []byte, at int64) (int, error) {
	n, err := f.wholeFile.WriteAt(p, at)
	if full(err) {
		err = vfs.SystemError(err, sqlite3.FULL)
	}
	return n, err
}

// SizeHint implements vfs.FileSizeHint.
func (f roomFile) SizeHint(size int64) error {
	err := f.wholeFile.SizeHint(size)
	if full(err) {
		err = vfs.SystemError(err, sqlite3.FULL)
	}
	return err
}

// DeviceCharacteristics implements vfs.File.
func (f roomFile) DeviceCharacteristics() vfs.DeviceCharacteristic {
	return f.wholeFile.DeviceCharacteristics() &^ vfs.IOCAP_BATCH_ATOMIC // which is not handed on
}

// Unwrap implements vfs.FileUnwrap.
func (f roomFile) Unwrap() vfs.File { return f.wholeFile }

package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"syscall"

	driver "modernc.org/sqlite"

	"earstone/store/history"
)

// errBusy is a lock that another process holds.
var errBusy = errors.New("another process holds the file")

// The result codes of SQLite that are told apart (sqlite.org, "Result and Error Codes").
const (
	codeBusy       = 5
	codeReadOnly   = 8
	codeCorrupt    = 11
	codeFull       = 13
	codeCantOpen   = 14
	codeNotADB     = 26
	codeShmSize    = 4874 // no room for the index of the WAL
	codeIOErrWrite = 778
)

// told turns trouble of the driver and of the file system into the troubles of a store;
// other errors and those that are told already come back as they are.
func told(err error) error {
	for _, known := range []error{nil, history.ErrFull, history.ErrReadOnly, history.ErrDamaged, history.ErrLocked, errBusy} {
		if err == known || known != nil && errors.Is(err, known) {
			return err
		}
	}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("%w (%w)", history.ErrFull, err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%w (%w)", history.ErrReadOnly, err)
	}
	var of *driver.Error
	if !errors.As(err, &of) {
		return err
	}
	switch code := of.Code(); {
	case code == codeShmSize || code&0xff == codeFull:
		return fmt.Errorf("%w (%w)", history.ErrFull, err)
	case code&0xff == codeReadOnly, code&0xff == codeCantOpen:
		return fmt.Errorf("%w (%w)", history.ErrReadOnly, err)
	case code&0xff == codeCorrupt, code&0xff == codeNotADB:
		return fmt.Errorf("%w (%w)", history.ErrDamaged, err)
	case code&0xff == codeBusy:
		return fmt.Errorf("%w (%w)", errBusy, err)
	}
	return err
}

// notHere says what to do where no programme is.
func notHere(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there is no %s in it: earstone new makes a programme", File)
	}
	return err
}

// syncFolder waits until the names in a folder are on the disk.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" { // folders can't be synced there, and need not be
		return nil
	}
	folder, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

// removeFile removes an SQLite file with what lies beside it.
func removeFile(path string) error {
	var all []error
	for _, ending := range []string{"", "-wal", "-shm", "-journal"} {
		if err := os.Remove(path + ending); err != nil && !errors.Is(err, fs.ErrNotExist) {
			all = append(all, err)
		}
	}
	return errors.Join(all...)
}

package sqlite

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Names, places and passwords are nobody's but those of whoever keeps a programme: what is
// made anew can be read by its owner alone. Who shares a folder with a group may widen the
// rights of the programme afterwards, and they stay.
const (
	private       fs.FileMode = 0o600
	privateFolder fs.FileMode = 0o700
)

// makeFolder makes the folder of a programme. One that is there already keeps its rights:
// somebody chose them.
func makeFolder(dir string) error {
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return err
	}
	if err := os.Mkdir(dir, privateFolder); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return os.MkdirAll(filepath.Join(dir, Pictures), 0o777)
}

// begin makes an empty file with the given rights, which SQLite takes for a new database.
// The files that it lays beside it get the same rights. One that is there already is left.
func begin(path string, rights fs.FileMode) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, rights)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil
	case err != nil:
		return err
	}
	return errors.Join(file.Chmod(rights), file.Close()) // the mask of the process may have narrowed them
}

// keepPrivate makes a file when it is not there, and takes its rights, and those of the
// files beside it, away from everybody but its owner.
func keepPrivate(path string) error {
	if err := begin(path, private); err != nil {
		return err
	}
	for _, ending := range []string{"", "-wal", "-shm"} {
		is, err := os.Stat(path + ending)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			return err
		case is.Mode().Perm()&^private == 0:
			continue
		}
		if err := os.Chmod(path+ending, private); err != nil {
			return err
		}
	}
	return nil
}

package tables

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
)

// Folder is a folder that files are written into, by its path.
type Folder string

// WriteTable writes one CSV table: a header of the columns, then what rows writes.
func (f Folder) WriteTable(name string, columns []string, rows func(*Writer) error) error {
	return f.Write(name, func(to io.Writer) error {
		w := NewWriter(to)
		w.Row(columns...)
		if err := rows(w); err != nil {
			return err
		}
		return w.Flush()
	})
}

// WriteFile writes one file whole.
func (f Folder) WriteFile(name string, content []byte) error { return f.Write(name, asItIs(content)) }

// Write writes one file through the function, and waits until it is on the disk. The
// name may lead into a folder below; that folder is made.
func (f Folder) Write(name string, write func(io.Writer) error) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("writing %s: %w", name, err)
		}
	}()
	if !filepath.IsLocal(name) {
		return errors.New("the name leads out of the folder")
	}
	path := filepath.Join(string(f), name)
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := write(file); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := file.Sync(); err != nil {
		return errors.Join(err, file.Close())
	}
	return file.Close()
}

// sync waits until the names in a folder are on the disk.
func (f Folder) sync() error {
	if runtime.GOOS == "windows" { // folders can't be synced there, and need not be
		return nil
	}
	folder, err := os.Open(string(f))
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

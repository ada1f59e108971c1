package tables

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Folder is a folder that tables are written into, by its path.
type Folder string

// Write writes one file through the function, and waits until it is on the disk.
func (f Folder) Write(name string, write func(io.Writer) error) (err error) {
	file, err := os.Create(filepath.Join(string(f), name))
	if err != nil {
		return fmt.Errorf("creating %s: %w", name, err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("writing %s: %w", name, err)
		}
	}()
	if err := write(file); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := file.Sync(); err != nil {
		return errors.Join(err, file.Close())
	}
	return file.Close()
}

// WriteFile writes one file whole.
func (f Folder) WriteFile(name string, content []byte) error {
	return f.Write(name, func(to io.Writer) error {
		_, err := to.Write(content)
		return err
	})
}

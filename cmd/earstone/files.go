package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// replace writes a file whole: under another name first, so that a reader finds the old
// content or the new and never a part.
func replace(path string, content []byte) error {
	err := replaceFile(path, content)
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return nil
}

func replaceFile(path string, content []byte) error {
	file, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name()) // after the rename there is nothing of this name
	if _, err := file.Write(content); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := errors.Join(file.Chmod(0o644), file.Sync(), file.Close()); err != nil {
		return err
	}
	return os.Rename(file.Name(), path)
}

// within tells whether a path is a folder or lies in it, links followed.
func within(path, folder string) bool {
	real := func(path string) string {
		if followed, err := filepath.EvalSymlinks(path); err == nil {
			path = followed
		}
		whole, err := filepath.Abs(path)
		if err != nil {
			return path
		}
		return whole
	}
	inside, err := filepath.Rel(real(folder), real(path))
	return err == nil && filepath.IsLocal(inside)
}

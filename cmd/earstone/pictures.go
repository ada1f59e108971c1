package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"earstone/store/history"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// copyPictures brings the pictures that records of images name into the programme, from
// beside the files that were taken in. One that is there already, or nowhere, is passed
// over: earstone verify tells of pictures that are not there.
func copyPictures(ctx context.Context, to *output, files []string, into string, store history.Store) error {
	copied := 0
	err := store.Each(ctx, history.Images, func(r *history.Record) error {
		name := strings.TrimPrefix(filepath.ToSlash(r.Fields()["file"]), sqlite.Pictures+"/")
		if name == "" || !filepath.IsLocal(filepath.FromSlash(name)) {
			return ctx.Err()
		}
		if _, err := os.Stat(filepath.Join(into, sqlite.Pictures, name)); err == nil {
			return ctx.Err()
		}
		for _, from := range files {
			if about, err := os.Stat(from); err == nil && !about.IsDir() {
				from = filepath.Dir(from)
			}
			found, err := copyPicture(from, name, filepath.Join(into, sqlite.Pictures))
			if err != nil {
				return fmt.Errorf("copying the picture %s: %w", name, err)
			}
			if found {
				copied++
				to.begin(fmt.Sprintf("copying pictures (%d)", copied))
				break
			}
		}
		return ctx.Err()
	})
	return err
}

// copyPicture copies a picture from a folder of tables, or from the pictures in it. It
// has a hidden name until it is whole.
func copyPicture(from, name, to string) (found bool, err error) {
	root, err := os.OpenRoot(from)
	if err != nil {
		return false, err
	}
	defer root.Close()
	for _, path := range []string{name, sqlite.Pictures + "/" + name} {
		in, err := root.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return false, err
		}
		defer in.Close()
		if about, err := in.Stat(); err != nil || !about.Mode().IsRegular() {
			return false, err
		}
		hidden := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+".part")
		err = tables.Folder(to).Write(hidden, func(out io.Writer) error {
			_, err := io.Copy(out, in)
			return err
		})
		if err != nil {
			return false, err
		}
		return true, os.Rename(filepath.Join(to, hidden), filepath.Join(to, name))
	}
	return false, nil
}

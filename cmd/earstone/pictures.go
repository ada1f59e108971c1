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

	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/pictures"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// pictureName is the path of an image's file below a folder of pictures; empty when it
// has none, or one that leads elsewhere.
func pictureName(file string) string {
	name := filepath.FromSlash(strings.TrimPrefix(filepath.ToSlash(file), sqlite.Pictures+"/"))
	if !filepath.IsLocal(name) {
		return ""
	}
	return name
}

// takePictures brings the pictures that records of images name into the programme, from
// beside the files that were taken in. One that is there already, or nowhere, is passed
// over: earstone verify tells of pictures that are not there.
func takePictures(ctx context.Context, to *output, files []string, into string, store history.Store) error {
	dir := filepath.Join(into, sqlite.Pictures)
	folder, err := pictures.Open(dir)
	if err != nil {
		return err
	}
	taken := 0
	return store.Each(ctx, history.Images, func(r *history.Record) error {
		name := pictureName(r.Fields()["file"])
		if name == "" || hasPicture(folder, dir, name, r.Fields()["sha256"]) {
			return ctx.Err()
		}
		for _, from := range files {
			if about, err := os.Stat(from); err == nil && !about.IsDir() {
				from = filepath.Dir(from)
			}
			there, err := takePicture(ctx, folder, from, name, dir)
			if err != nil {
				return fmt.Errorf("taking the picture %s in: %w", name, err)
			}
			if there {
				taken++
				to.begin(fmt.Sprintf("taking pictures in (%d)", taken))
				break
			}
		}
		return ctx.Err()
	})
}

func hasPicture(folder *pictures.Folder, dir, name, sha256 string) bool {
	if h, err := pictures.ParseHash(strings.ToLower(sha256)); err == nil {
		if _, err := folder.Picture(h); err == nil {
			return true
		}
	}
	_, err := os.Stat(filepath.Join(dir, name))
	return err == nil
}

// takePicture takes a picture from a folder of tables, or from the pictures in it. What
// can't be looked at is kept as it is, under its own name.
func takePicture(ctx context.Context, folder *pictures.Folder, from, name, dir string) (there bool, err error) {
	root, err := os.OpenRoot(from)
	if err != nil {
		return false, err
	}
	defer root.Close()
	for _, path := range []string{name, filepath.Join(sqlite.Pictures, name)} {
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
		var refused *pictures.Refusal
		if _, err = folder.Take(ctx, in); !errors.As(err, &refused) {
			return err == nil, err
		}
		if _, err := in.Seek(0, io.SeekStart); err != nil {
			return false, err
		}
		return true, keepFile(in, name, dir)
	}
	return false, nil
}

// keepFile writes a file that has a hidden name until it is whole.
func keepFile(in io.Reader, name, dir string) error {
	hidden := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+".part")
	err := tables.Folder(dir).Write(hidden, func(out io.Writer) error {
		_, err := io.Copy(out, in)
		return err
	})
	if err != nil {
		return err
	}
	return os.Rename(filepath.Join(dir, hidden), filepath.Join(dir, name))
}

// givePictures writes the pictures of a programme beside its exported tables, each under
// the name that images.csv gives it.
func givePictures(ctx context.Context, src string, of *record.Book, out tables.Folder) error {
	dir := filepath.Join(src, sqlite.Pictures)
	folder, err := pictures.Open(dir)
	if err != nil {
		return err
	}
	for i := range of.Images {
		name := pictureName(of.Images[i].File)
		if err := ctx.Err(); err != nil || name == "" {
			if err != nil {
				return err
			}
			continue
		}
		in, err := pictureFile(folder, dir, name, of.Images[i].SHA256)
		if err != nil {
			continue // earstone verify tells of it
		}
		err = out.Write(filepath.Join(sqlite.Pictures, name), func(to io.Writer) error {
			_, err := io.Copy(to, in)
			return err
		})
		if err := errors.Join(err, in.Close()); err != nil {
			return fmt.Errorf("writing the picture %s: %w", name, err)
		}
	}
	return nil
}

func pictureFile(folder *pictures.Folder, dir, name, sha256 string) (io.ReadCloser, error) {
	if h, err := pictures.ParseHash(strings.ToLower(sha256)); err == nil {
		if in, err := folder.Original(h); err == nil {
			return in, nil
		}
	}
	return os.Open(filepath.Join(dir, name))
}

package tables

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// OpenFiles opens what a person names: folders and workbooks as Open does, and single
// .csv or .parquet files, each named after its table (fish.csv, fish-2031.csv), or a
// programme.json.
func OpenFiles(paths []string) (all []*Tables, err error) {
	for _, path := range paths {
		var t *Tables
		about, err := os.Stat(path)
		switch {
		case err != nil:
			err = fmt.Errorf("opening %s: %w", path, err)
		case about.IsDir() || isWorkbook(path):
			t, err = Open(path)
		default:
			t, err = openFile(path)
		}
		if err != nil {
			for _, opened := range all {
				err = errors.Join(err, opened.Close())
			}
			return nil, err
		}
		all = append(all, t)
	}
	return all, nil
}

// openFile opens a single file as a programme that holds nothing else.
func openFile(path string) (*Tables, error) {
	base := filepath.Base(path)
	name := tableOf(base)
	if name == "" && base != settingsFile {
		return nil, fmt.Errorf("opening %s: a file is named after its table, as fish.csv or fish-2031.csv; the tables are %s",
			path, strings.Join(Names(), ", "))
	}
	root, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	t := &Tables{files: root.FS(), root: root, single: base, places: map[string]place{}}
	if name != "" {
		t.places[name] = place{path: base}
	}
	return t, nil
}

// tableOf is the table that a file is named after: the longest name that it begins with,
// the end or no letter following. Empty when there is none.
func tableOf(file string) (name string) {
	ending := filepath.Ext(file)
	if !strings.EqualFold(ending, ".csv") && !isParquet(file) {
		return ""
	}
	stem := strings.ToLower(strings.TrimSuffix(file, ending))
	for _, table := range Names() {
		rest, begins := strings.CutPrefix(stem, table)
		if begins && len(table) > len(name) && (rest == "" || strings.ContainsAny(rest[:1], "-_. 0123456789")) {
			name = table
		}
	}
	return name
}

// ErrNotEmpty is a folder that may not be written because it holds something.
var ErrNotEmpty = errors.New("the folder is there and holds something, so nothing is written into it: choose another name")

// CreateEmpty begins a folder that will stand at target, where nothing may stand yet but
// an empty folder.
func CreateEmpty(target string) (*NewFolder, error) {
	entries, err := os.ReadDir(target)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("writing %s: %w", target, err)
	}
	if len(entries) > 0 {
		return nil, fmt.Errorf("writing %s: %w", target, ErrNotEmpty)
	}
	return CreateFolder(target)
}

// CopyFiles copies all plain files of a folder and of those below it, waiting for each to
// be on the disk. A folder that is not there holds none.
func CopyFiles(ctx context.Context, from, to string) error {
	if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	root, err := os.OpenRoot(from)
	if err != nil {
		return fmt.Errorf("copying %s: %w", from, err)
	}
	defer root.Close()
	return fs.WalkDir(root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil {
			err = ctx.Err()
		}
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		in, err := root.Open(name)
		if err != nil {
			return fmt.Errorf("copying %s: %w", name, err)
		}
		defer in.Close()
		return Folder(to).Write(filepath.FromSlash(name), func(out io.Writer) error {
			_, err := io.Copy(out, in)
			return err
		})
	})
}

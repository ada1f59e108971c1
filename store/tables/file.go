package tables

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"

	"earstone/programme/finding"
)

// place is where a table stands: a CSV file, or a sheet of a workbook.
type place struct {
	path  string
	sheet string // as the workbook spells it
	book  *workbook
}

// label is how findings name the place: fish.csv, or season.xlsx#fish.
func (p place) label() string {
	if p.sheet != "" {
		return p.path + "#" + p.sheet
	}
	return p.path
}

// reading opens a table and hands its rows to take, which says how many there were.
func (t *Tables) reading(where place, found *finding.List, texts map[string]string, most int64, take func(*page, rows) (int, error)) error {
	p := newPage(where.label(), found, texts)
	if where.book != nil {
		return t.readingSheet(where, p, take)
	}
	if isParquet(where.path) {
		most = maxParquet
	}
	file, err := t.open(where.path, most)
	if err != nil {
		return p.unreachable(err)
	}
	defer file.Close()
	if isParquet(where.path) {
		n, err := t.readingParquet(file, p, take)
		if err == nil && file.ended {
			t.count(Input{where.path, hex.EncodeToString(file.sum.Sum(nil)), n, file.bytes})
		}
		return err
	}
	in := newScanner(file)
	if !in.opening(p) {
		return nil
	}
	n, err := take(p, in)
	if err == nil && file.ended {
		t.count(Input{where.path, hex.EncodeToString(file.sum.Sum(nil)), n, file.bytes})
	}
	return err
}

// count keeps one entry a file: a second reading takes the place of the first.
func (t *Tables) count(in Input) {
	for i := range t.input {
		if t.input[i].Name == in.Name {
			t.input[i] = in
			return
		}
	}
	t.input = append(t.input, in)
}

// small reads a whole file of settings; nil bytes when it is not there or was refused.
func (t *Tables) small(path string) ([]byte, error) {
	file, err := t.open(path, maxJSON)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	p := newPage(path, &t.found, nil)
	if err != nil {
		return nil, p.unreachable(err)
	}
	defer file.Close()
	text, err := io.ReadAll(file)
	if err != nil {
		return nil, p.trouble(err)
	}
	t.count(Input{path, hex.EncodeToString(file.sum.Sum(nil)), 0, file.bytes})
	if text == nil {
		text = []byte{}
	}
	return text, nil
}

// unreachable turns a file that may not be read into a finding; the rest is an error.
func (p *page) unreachable(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		p.refuse("not_there")
	case errors.Is(err, errDangling):
		p.refuse("dangling_link")
	case errors.Is(err, errNotPlain):
		p.refuse("not_a_plain_file")
	case errors.Is(err, fs.ErrPermission):
		p.refuse("no_permission")
	case errors.Is(err, errOutside):
		p.refuse("outside_the_folder")
	default:
		return err
	}
	return nil
}

var (
	errDangling = errors.New("tables: a link that leads nowhere")
	errNotPlain = errors.New("tables: not a plain file")
	errOutside  = errors.New("tables: a path or link that leads out of the folder")
)

// file is a plain file that is hashed while it is read and refused past its bound.
type file struct {
	in    fs.File
	sum   hash.Hash
	bytes int64
	most  int64
	ended bool
}

func (t *Tables) open(path string, most int64) (*file, error) {
	if !fs.ValidPath(path) {
		return nil, errOutside
	}
	about, err := fs.Stat(t.files, path) // before opening: a pipe would wait for ever
	if err != nil {
		return nil, t.outside(path, err)
	}
	if !about.Mode().IsRegular() {
		return nil, errNotPlain
	}
	in, err := t.files.Open(path)
	if err != nil {
		return nil, t.outside(path, err)
	}
	return &file{in: in, sum: sha256.New(), most: most}, nil
}

// outside tells a link that the folder refuses to follow, or that leads nowhere, from
// other trouble.
func (t *Tables) outside(path string, err error) error {
	linked := t.linked(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && linked:
		return errDangling
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, fs.ErrPermission):
		return err
	case linked:
		return errOutside
	}
	return fmt.Errorf("opening %s: %w", path, err)
}

// linked tells whether a path, or a folder on its way, is a link.
func (t *Tables) linked(path string) bool {
	for i, sign := range path + "/" {
		if sign != '/' {
			continue
		}
		if about, err := fs.Lstat(t.files, path[:i]); err == nil && about.Mode()&fs.ModeSymlink != 0 {
			return true
		}
	}
	return false
}

func (f *file) Read(to []byte) (int, error) {
	n, err := f.in.Read(to)
	f.sum.Write(to[:n])
	f.bytes += int64(n)
	f.ended = f.ended || err == io.EOF
	if f.bytes > f.most {
		return 0, tooLarge{"file", f.most}
	}
	return n, err
}

func (f *file) Close() error { return f.in.Close() }

// Package sqlite keeps the history of a programme in one SQLite file.
//
// The file is in WAL mode with synchronous=FULL: what Append has acknowledged survives the
// process and the power. One process writes, held off others by a lock that ends with the
// process, however that ends; any number may read meanwhile.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"

	_ "modernc.org/sqlite" // the driver

	"earstone/store/history"
)

// The names in the folder of a programme.
const (
	File     = "programme.sqlite"
	Pictures = "pictures"
	lockFile = "writer.lock"
)

// Is tells whether a path is the folder of a programme that Create made.
func Is(dir string) bool {
	about, err := os.Stat(filepath.Join(dir, File))
	return err == nil && about.Mode().IsRegular()
}

// Store is an open programme. It is a history.Store.
type Store struct {
	// Progress is told by Append how far it is; set it before the first one, or leave it.
	Progress func(done, of int)

	dir     string
	readers *sql.DB
	mode    string // how readers open the file

	lock    *sql.DB // nil: opened for reading
	writers *sql.DB
	writing sync.Mutex
	w       *writer
	keeper  *keeper
}

var _ history.Store = (*Store)(nil)

// ErrNewer is a programme that a later earstone has written.
var ErrNewer = errors.New("a newer earstone has written this programme: use that one")

// Create makes the folder of a new programme, which must be empty if it is there.
func Create(ctx context.Context, dir string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("making the programme %s: %w", dir, told(err))
		}
	}()
	if err := makeFolder(dir); err != nil {
		return err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(entries) > 1 {
		return fmt.Errorf("the folder holds something already: choose another name")
	}
	// Under another name first: nobody takes half a file for a programme.
	path := filepath.Join(dir, "."+File+".new")
	if err := create(ctx, path); err != nil {
		return errors.Join(err, removeFile(path))
	}
	if err := os.Rename(path, filepath.Join(dir, File)); err != nil {
		return err
	}
	return syncFolder(dir)
}

func create(ctx context.Context, path string) error {
	if err := errors.Join(removeFile(path), begin(path, private)); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", dsn(path, "mode=rwc&_pragma=journal_mode(WAL)&"+writerPragmas))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	_, err = forward(ctx, db, migrations)
	return errors.Join(err, db.Close())
}

const writerPragmas = "_pragma=synchronous(FULL)&_pragma=busy_timeout(10000)&_pragma=secure_delete(1)&_pragma=cache_size(-65536)"

// dsn is the address of a file; every sign of its path is taken as it is.
func dsn(path, options string) string {
	whole, err := filepath.Abs(path)
	if err != nil {
		whole = path
	}
	whole = filepath.ToSlash(whole)
	if !strings.HasPrefix(whole, "/") { // a drive letter
		whole = "/" + whole
	}
	return (&url.URL{Scheme: "file", Path: whole}).String() + "?" + options
}

// Open opens a programme for writing and reading: ErrLocked when another process writes
// to it. A file of an earlier version is brought forward first.
func Open(ctx context.Context, dir string) (*Store, error) {
	s, err := open(ctx, dir, migrations)
	if err != nil {
		return nil, fmt.Errorf("opening the programme %s: %w", dir, told(err))
	}
	return s, nil
}

func open(ctx context.Context, dir string, steps []migration) (_ *Store, err error) {
	path := filepath.Join(dir, File)
	if _, err := os.Stat(path); err != nil {
		return nil, notHere(err)
	}
	s := &Store{dir: dir}
	defer func() {
		if err != nil {
			err = errors.Join(told(err), s.Close())
		}
	}()
	if s.lock, err = hold(ctx, filepath.Join(dir, lockFile)); err != nil {
		return nil, err
	}
	if err := bringForward(ctx, dir, steps); err != nil {
		return nil, err
	}
	if s.writers, err = sql.Open("sqlite", dsn(path, "mode=rw&_pragma=wal_autocheckpoint(0)&"+writerPragmas)); err != nil {
		return nil, err
	}
	s.writers.SetMaxOpenConns(1)
	if s.w, err = newWriter(ctx, s.writers); err != nil {
		return nil, err
	}
	if err := s.keepOn(path); err != nil {
		return nil, err
	}
	return s, s.read(path, "mode=ro&")
}

// Read opens a programme for reading only; another process may write to it.
func Read(ctx context.Context, dir string) (*Store, error) {
	s, err := read(ctx, dir)
	if err != nil {
		return nil, fmt.Errorf("opening the programme %s: %w", dir, told(err))
	}
	return s, nil
}

func read(ctx context.Context, dir string) (*Store, error) {
	path := filepath.Join(dir, File)
	if _, err := os.Stat(path); err != nil {
		return nil, notHere(err)
	}
	s := &Store{dir: dir}
	if err := s.read(path, "mode=ro&"+settled(path)); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	version, err := versionOf(ctx, s.readers)
	switch latest := len(migrations); {
	case err != nil:
	case version > latest:
		err = ErrNewer
	case version < latest:
		err = fmt.Errorf("an earlier earstone has written it: any command that writes to it, as earstone import, brings it forward")
	}
	if err != nil {
		return nil, errors.Join(told(err), s.Close())
	}
	return s, nil
}

// settled are options for a file in a folder that can't be written to: WAL mode needs a
// file beside it, unless nobody wrote since all was settled in the one.
func settled(path string) string {
	probe, err := os.CreateTemp(filepath.Dir(path), ".probe")
	if err == nil {
		_ = probe.Close()
		_ = os.Remove(probe.Name())
		return ""
	}
	if _, err := os.Stat(path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		return "immutable=1&"
	}
	return ""
}

func (s *Store) read(path, mode string) (err error) {
	s.mode = mode
	if s.readers, err = openReader(path, mode); err != nil {
		return err
	}
	s.readers.SetMaxOpenConns(readersAtOnce)
	s.readers.SetMaxIdleConns(readersAtOnce)
	return nil
}

const readersAtOnce = 4

func openReader(path, mode string) (*sql.DB, error) {
	return sql.Open("sqlite", dsn(path, mode+"_pragma=query_only(1)&_pragma=busy_timeout(10000)&_pragma=cache_size(-16384)"))
}

// Close lets go of the programme.
func (s *Store) Close() error {
	var all []error
	if s.keeper != nil {
		s.keeper.halt()
		all = append(all, s.keeper.db.Close())
	}
	if s.w != nil {
		all = append(all, s.w.close())
	}
	for _, db := range []*sql.DB{s.readers, s.writers, s.lock} { // the lock last
		if db != nil {
			all = append(all, db.Close())
		}
	}
	return errors.Join(all...)
}

// Database opens another SQLite file beside the programme, made when it is not there,
// with the same promise of durability: for what is no record of it. Nobody but its owner may
// read it, whatever its rights were before.
func Database(path string) (*sql.DB, error) {
	if err := keepPrivate(path); err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, told(err))
	}
	db, err := sql.Open("sqlite", dsn(path, "mode=rwc&_pragma=journal_mode(WAL)&_pragma=foreign_keys(1)&_txlock=immediate&"+writerPragmas))
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, told(err))
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// hold takes the lock of a programme. It is the lock of an SQLite file, since that ends
// with its process on every system.
func hold(ctx context.Context, path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, "mode=rwc&_pragma=busy_timeout(0)"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	db.SetConnMaxLifetime(0)
	if _, err := db.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		err = told(err)
		if errors.Is(err, errBusy) {
			err = history.ErrLocked
		}
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// CopyTo writes all that was acknowledged when it began into a new file, whatever is
// written meanwhile. The copy needs no file beside it.
func (s *Store) CopyTo(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite", dsn(filepath.Join(s.dir, File), s.mode+"_pragma=busy_timeout(10000)"))
	if err == nil {
		err = begin(path, private)
	}
	if err == nil {
		_, err = db.ExecContext(ctx, "VACUUM INTO ?", path)
		err = errors.Join(err, db.Close())
	}
	if err == nil {
		err = syncFile(path)
	}
	if err != nil {
		return fmt.Errorf("copying the programme %s: %w", s.dir, told(err))
	}
	return nil
}

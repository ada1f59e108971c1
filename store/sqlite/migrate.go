package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"

	"earstone/store/history"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migration is one step forward; the version of a file is how many it has behind it.
type migration struct{ name, text string }

// migrations are all steps in their order.
var migrations = readMigrations()

func readMigrations() []migration {
	entries, err := migrationFiles.ReadDir("migrations")
	if err != nil {
		panic(err) // they are in the program
	}
	var steps []migration
	for i, entry := range entries {
		text, err := migrationFiles.ReadFile(path.Join("migrations", entry.Name()))
		if err != nil {
			panic(err)
		}
		if want := fmt.Sprintf("%04d_", i+1); entry.Name()[:5] != want {
			panic("sqlite: migration " + entry.Name() + " should begin with " + want)
		}
		steps = append(steps, migration{entry.Name(), string(text)})
	}
	return steps
}

func versionOf(ctx context.Context, db *sql.DB) (version int, err error) {
	err = db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version)
	return version, err
}

// forward takes the steps that a file has not behind it, each whole or not at all, and
// tells how many they were.
func forward(ctx context.Context, db *sql.DB, steps []migration) (taken int, err error) {
	version, err := versionOf(ctx, db)
	if err != nil {
		return 0, err
	}
	if version > len(steps) {
		return 0, ErrNewer
	}
	for i, step := range steps[version:] {
		text := fmt.Sprintf("BEGIN IMMEDIATE;\n%s\nPRAGMA user_version = %d;\nCOMMIT", step.text, version+i+1)
		if _, err := db.ExecContext(ctx, text); err != nil {
			_, _ = db.ExecContext(ctx, "ROLLBACK") // of a statement that failed within; else there is nothing to undo
			return i, fmt.Errorf("taking the step %s: %w", step.name, err)
		}
	}
	return len(steps) - version, nil
}

// bringForward brings a file of an earlier version forward on a copy, which takes its
// place when it proves whole. The old one stays beside it.
func bringForward(ctx context.Context, dir string, steps []migration) error {
	now := filepath.Join(dir, File)
	version, err := versionOfFile(ctx, now)
	switch {
	case err != nil:
		return err
	case version > len(steps):
		return ErrNewer
	case version == len(steps):
		return nil
	}
	next := filepath.Join(dir, "."+File+".next")
	if err := copyForward(ctx, now, next, steps); err != nil {
		return errors.Join(fmt.Errorf("bringing the programme forward, which is as it was: %w", told(err)), removeFile(next))
	}
	before := filepath.Join(dir, fmt.Sprintf("programme.before-%d.sqlite", len(steps)))
	if err := errors.Join(removeFile(before), os.Link(now, before)); err != nil {
		return err
	}
	if err := os.Rename(next, now); err != nil {
		return err
	}
	return errors.Join(removeWAL(now), syncFolder(dir))
}

// removeWAL removes what the old file had beside it; all of that is in its own pages.
func removeWAL(path string) error {
	for _, ending := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + ending); err != nil && !os.IsNotExist(err) {
			return err
		}
	}
	return nil
}

func versionOfFile(ctx context.Context, path string) (version int, err error) {
	db, err := sql.Open("sqlite", dsn(path, "mode=rw&_pragma=busy_timeout(10000)"))
	if err != nil {
		return 0, err
	}
	version, err = versionOf(ctx, db)
	return version, errors.Join(err, db.Close())
}

// copyForward makes the copy, takes the steps on it, and holds it against the old file:
// the same entries with the same hashes in the same order.
func copyForward(ctx context.Context, now, next string, steps []migration) error {
	is, err := os.Stat(now)
	if err != nil {
		return err
	}
	if err := errors.Join(removeFile(next), begin(next, is.Mode().Perm())); err != nil {
		return err
	}
	old, err := sql.Open("sqlite", dsn(now, "mode=rw&"+writerPragmas))
	if err != nil {
		return err
	}
	defer old.Close() // it was read only but for the checkpoint
	if _, err := old.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return err
	}
	if _, err := old.ExecContext(ctx, "VACUUM INTO ?", next); err != nil {
		return err
	}
	fresh, err := sql.Open("sqlite", dsn(next, "mode=rw&_pragma=journal_mode(WAL)&"+writerPragmas))
	if err != nil {
		return err
	}
	fresh.SetMaxOpenConns(1)
	_, err = forward(ctx, fresh, steps)
	if err == nil {
		err = equal(ctx, old, fresh)
	}
	if err := errors.Join(err, fresh.Close()); err != nil {
		return err
	}
	return syncFile(next)
}

// equal proves the fresh file and tells whether it holds what the old one holds.
func equal(ctx context.Context, old, fresh *sql.DB) error {
	proof, err := prove(ctx, fresh, nil)
	if err != nil {
		return err
	}
	if len(proof.Damage) > 0 {
		return fmt.Errorf("the copy is not whole: %s %d: %s", proof.Damage[0].What, proof.Damage[0].Position, proof.Damage[0].How)
	}
	const all = "SELECT id, hash FROM journal ORDER BY position"
	a, err := hashes(ctx, old, all)
	if err != nil {
		return err
	}
	b, err := hashes(ctx, fresh, all)
	if err != nil {
		return err
	}
	if !slices.Equal(a, b) {
		return errors.New("the copy does not hold the same entries")
	}
	return nil
}

type named struct {
	id   history.ID
	hash history.Hash
}

func hashes(ctx context.Context, db *sql.DB, query string) (all []named, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id, hash []byte
		if err := rows.Scan(&id, &hash); err != nil {
			return nil, err
		}
		var one named
		copy(one.id[:], id)
		copy(one.hash[:], hash)
		all = append(all, one)
	}
	return all, rows.Err()
}

func syncFile(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}

// Package backup keeps copies of a programme, each with the proof that it is whole.
package backup

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"earstone/store/history"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// listFile names every file of a backup with its hash.
const listFile = "backup.json"

// list is what stands in it.
type list struct {
	Made    time.Time       `json:"made"`
	Entries int             `json:"entries"`
	Chain   string          `json:"chain"` // of all entries, SHA-256
	Files   map[string]part `json:"files"`
}

type part struct {
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

// Progress is told what is done and how far it is; of is 0 where nobody knows.
type Progress func(stage string, done, of int)

func (p Progress) tell(stage string, done, of int) {
	if p != nil {
		p(stage, done, of)
	}
}

// Make writes a backup of the programme in dir into a new folder. The programme may be
// written to meanwhile: the backup holds what was acknowledged when it began. Accounts
// are left out, since a copy of the records should carry no password. It tells how many
// entries the copy holds; one that is not whole is no backup, and is discarded.
func Make(ctx context.Context, dir, to string, now time.Time, progress Progress) (proof history.Proof, err error) {
	store, err := sqlite.Read(ctx, dir)
	if err != nil {
		return proof, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	out, err := tables.CreateEmpty(to)
	if err != nil {
		return proof, err
	}
	defer func() { err = errors.Join(err, out.Discard()) }()
	progress.tell("copying the records", 0, 0)
	if err := store.CopyTo(ctx, filepath.Join(string(out.Folder), sqlite.File)); err != nil {
		return proof, err
	}
	progress.tell("copying the pictures", 0, 0)
	if err := copyPictures(ctx, dir, string(out.Folder)); err != nil {
		return proof, err
	}
	if err := copyKits(dir, out.Folder); err != nil {
		return proof, err
	}
	if proof, err = proveRecords(ctx, string(out.Folder), progress); err != nil {
		return proof, err
	}
	if len(proof.Damage) > 0 {
		return proof, fmt.Errorf("backing %s up: %w", dir, history.ErrDamaged)
	}
	if err := writeList(ctx, out.Folder, proof, now); err != nil {
		return proof, err
	}
	return proof, out.Commit()
}

// copyPictures copies the picture folder; a picture that an import is just writing is
// under a hidden name until it is whole, and is left out.
func copyPictures(ctx context.Context, from, to string) error {
	pictures := filepath.Join(to, sqlite.Pictures)
	if err := os.MkdirAll(pictures, 0o777); err != nil {
		return fmt.Errorf("copying the pictures: %w", err)
	}
	return tables.CopyFiles(ctx, filepath.Join(from, sqlite.Pictures), pictures)
}

// kitsFile is the table of kits, which lies beside the records: without it a programme that
// was restored would print labels a second time.
const kitsFile = "kits.csv"

func copyKits(from string, to tables.Folder) error {
	content, err := os.ReadFile(filepath.Join(from, kitsFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("copying the kits: %w", err)
	}
	return to.WriteFile(kitsFile, content)
}

func proveRecords(ctx context.Context, dir string, progress Progress) (proof history.Proof, err error) {
	store, err := sqlite.Read(ctx, dir)
	if err != nil {
		return proof, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	return store.Verify(ctx, func(done, of int) { progress.tell("verifying the records", done, of) })
}

func writeList(ctx context.Context, to tables.Folder, proof history.Proof, now time.Time) error {
	all := list{Made: now.UTC().Truncate(time.Second), Entries: proof.Entries, Chain: proof.Head.String(), Files: map[string]part{}}
	err := filepath.WalkDir(string(to), func(path string, d fs.DirEntry, err error) error {
		if err == nil {
			err = ctx.Err()
		}
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		name, err := filepath.Rel(string(to), path)
		if err != nil {
			return err
		}
		one, err := hashed(path)
		if err != nil {
			return err
		}
		all.Files[filepath.ToSlash(name)] = one
		return nil
	})
	if err != nil {
		return fmt.Errorf("listing the backup: %w", err)
	}
	text, err := json.MarshalIndent(all, "", "  ")
	if err != nil {
		return fmt.Errorf("listing the backup: %w", err)
	}
	return to.WriteFile(listFile, append(text, '\n'))
}

func hashed(path string) (part, error) {
	in, err := os.Open(path)
	if err != nil {
		return part{}, err
	}
	defer in.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, in)
	return part{hex.EncodeToString(sum.Sum(nil)), n}, err
}

// Damaged is a backup or a programme that is not whole.
type Damaged struct{ Damage []history.Damage }

func (d *Damaged) Error() string {
	return fmt.Sprintf("%d parts of it are damaged", len(d.Damage))
}

// Restore makes the programme anew, in a folder that is not there yet, from a backup that
// is proved first: *Damaged when it is not whole, and then nothing is made.
func Restore(ctx context.Context, from, dir string, progress Progress) (proof history.Proof, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("restoring %s from %s: %w", dir, from, err)
		}
	}()
	if _, err := os.Stat(filepath.Join(from, listFile)); err != nil {
		return proof, fmt.Errorf("it has no %s, so that it is no whole backup: %w", listFile, err)
	}
	report, err := Verify(ctx, from, progress)
	if err != nil {
		return report.Records, err
	}
	if damage := report.Damage(); len(damage) > 0 {
		return report.Records, &Damaged{damage}
	}
	out, err := tables.CreateEmpty(dir)
	if err != nil {
		return report.Records, err
	}
	defer func() { err = errors.Join(err, out.Discard()) }()
	progress.tell("copying", 0, 0)
	if err := tables.CopyFiles(ctx, from, string(out.Folder)); err != nil {
		return report.Records, err
	}
	if err := os.MkdirAll(filepath.Join(string(out.Folder), sqlite.Pictures), 0o777); err != nil {
		return report.Records, err
	}
	if err := os.Remove(filepath.Join(string(out.Folder), listFile)); err != nil {
		return report.Records, err
	}
	return report.Records, out.Commit()
}

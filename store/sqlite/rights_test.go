//go:build unix

package sqlite

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
)

// TestNobodyElseMayRead: the folder of a new programme, its file, what lies beside it, a copy,
// and the file of the accounts, old or new, are their owner's alone. Rights that somebody
// widened for a group stay with the programme when it is brought forward.
func TestNobodyElseMayRead(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "quarrow")
	if err := Create(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	keep(t, s, card("QB-1"))
	if err := s.CopyTo(t.Context(), filepath.Join(dir, "copy.sqlite")); err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(dir, "old.sqlite")
	if err := os.WriteFile(old, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{old, filepath.Join(dir, "accounts.sqlite")} {
		db, err := Database(path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.ExecContext(t.Context(), "CREATE TABLE people (person TEXT)"); err != nil {
			t.Fatal(err)
		}
	}
	rightsAre(t, dir, 0o700)
	for _, name := range []string{File, File + "-wal", "copy.sqlite", "old.sqlite", "old.sqlite-wal", "accounts.sqlite", "accounts.sqlite-wal", "accounts.sqlite-shm"} {
		rightsAre(t, filepath.Join(dir, name), 0o600)
	}
	now, next := filepath.Join(dir, "copy.sqlite"), filepath.Join(dir, "next.sqlite")
	if err := errors.Join(os.Chmod(now, 0o660), copyForward(t.Context(), now, next, migrations)); err != nil {
		t.Fatal(err)
	}
	rightsAre(t, next, 0o660)
}

func rightsAre(t *testing.T, path string, want os.FileMode) {
	t.Helper()
	is, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if got := is.Mode().Perm(); got != want {
		t.Errorf("the rights of %s are %o, want %o", filepath.Base(path), got, want)
	}
}

// TestFolderThatCannotBeWritten opens a programme as somebody who may only look at it.
func TestFolderThatCannotBeWritten(t *testing.T) {
	s := fresh(t)
	keep(t, s, card("QB-1"))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	open, err := os.MkdirTemp("", "earstone") // t.TempDir lies in a folder that others may not enter
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(open)
	dir, program := filepath.Join(open, "programme"), filepath.Join(open, "program")
	if err := errors.Join(os.Chmod(open, 0o755), os.CopyFS(dir, os.DirFS(s.dir)), copyFile(os.Args[0], program, 0o755),
		os.Chmod(filepath.Join(dir, File), 0o444), os.Chmod(dir, 0o555)); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o755)
	cmd := exec.Command(program)
	cmd.Dir, cmd.Env = "/", append(os.Environ(), readOnlyDir+"="+dir)
	if os.Getuid() == 0 { // whose rights know no bounds
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, said)
	}
}

func copyFile(from, to string, mode os.FileMode) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY, mode)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

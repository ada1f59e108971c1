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

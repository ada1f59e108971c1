package tables

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

func began(t *testing.T, target string) *NewFolder {
	t.Helper()
	n, err := CreateFolder(target)
	if err != nil {
		t.Fatalf("beginning the folder: %v", err)
	}
	return n
}

func names(t *testing.T, folder string) (all []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		all = append(all, entry.Name())
	}
	return all
}

func content(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestFolderComesWholeOrNotAtAll(t *testing.T) {
	parent := t.TempDir()
	target := filepath.Join(parent, "results")
	for _, text := range []string{"first", "second"} {
		n := began(t, target)
		if err := n.WriteFile("run.json", []byte(text)); err != nil {
			t.Fatal(err)
		}
		if err := n.Commit(); err != nil {
			t.Fatal(err)
		}
		if got := content(t, filepath.Join(target, "run.json")); got != text {
			t.Errorf("run.json says %q after Commit, want %q", got, text)
		}
	}
	n := began(t, target)
	if err := n.WriteFile("run.json", []byte("third")); err != nil {
		t.Fatal(err)
	}
	if got := content(t, filepath.Join(target, "run.json")); got != "second" {
		t.Errorf("run.json says %q before Commit, want what stood there", got)
	}
	if err := n.Discard(); err != nil {
		t.Fatal(err)
	}
	if left := names(t, parent); len(left) != 1 {
		t.Errorf("the folder holds %q, want the results only", left)
	}
}

func TestFolderOfAnotherIsNotReplaced(t *testing.T) {
	target := t.TempDir()
	if err := os.WriteFile(filepath.Join(target, "letter.txt"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := CreateFolder(target); !errors.Is(err, ErrNotOurs) {
		t.Errorf("beginning over another's folder: %v, want ErrNotOurs", err)
	}
}

func TestWriteStaysInside(t *testing.T) {
	n := began(t, filepath.Join(t.TempDir(), "results"))
	defer n.Discard()
	if err := n.WriteFile("../escaped", nil); err == nil {
		t.Error("a file was written beside the folder")
	}
}

// gone is the number of a process that has ended.
func gone(t *testing.T) string {
	t.Helper()
	ended := exec.Command(os.Args[0], "-test.run=^$")
	if err := ended.Run(); err != nil {
		t.Fatal(err)
	}
	return strconv.Itoa(ended.Process.Pid)
}

func TestNextRunTidiesUpAfterAKilledOne(t *testing.T) {
	parent, pid := t.TempDir(), gone(t)
	target := filepath.Join(parent, "results")
	half := filepath.Join(parent, ".results.earstone-new-"+pid+"-1")
	aside := filepath.Join(parent, ".results.earstone-old-"+pid+"-1")
	running := filepath.Join(parent, ".results.earstone-new-"+strconv.Itoa(os.Getpid())+"-2")
	for _, folder := range []string{half, aside, running} {
		if err := os.Mkdir(folder, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(aside, "run.json"), []byte("earlier"), 0o666); err != nil {
		t.Fatal(err)
	}
	n := began(t, target)
	defer n.Discard()
	if got := content(t, filepath.Join(target, "run.json")); got != "earlier" {
		t.Errorf("the result that was being replaced says %q, want it back", got)
	}
	if left := names(t, parent); len(left) != 3 { // the result, the running one's folder, ours
		t.Errorf("the folder holds %q, want the half folder gone and the running one's kept", left)
	}
}

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
	for what, held := range map[string]map[string]string{
		"a letter":                        {"letter.txt": "Dear Skell"},
		"a thesis beside an empty run":    {"run.json": "{}", "thesis.tex": "I"},
		"a result with a letter":          {"run.json": "{}", mark: "run.json\n", "letter.txt": "Dear Skell"},
		"a result with a folder":          {"run.json": "{}", mark: "run.json\n", "photos/one.jpg": ""},
		"a programme":                     {"programme.json": "{}", "fish.csv": "fish\n"},
		"a copy of an invented programme": {"programme.json": "{}", "run.json": `{"invented": true}`, mark: "programme.json\nrun.json\n"},
	} {
		target := t.TempDir()
		for name, text := range held {
			if err := Folder(target).WriteFile(name, []byte(text)); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := CreateFolder(target); !errors.Is(err, ErrNotOurs) {
			t.Errorf("beginning over %s: %v, want ErrNotOurs", what, err)
		}
		if err := Writable(target); !errors.Is(err, ErrNotOurs) {
			t.Errorf("over %s Writable says %v, want ErrNotOurs", what, err)
		}
		for name, text := range held {
			if got := content(t, filepath.Join(target, name)); got != text {
				t.Errorf("%s: %s holds %q now", what, name, got)
			}
		}
	}
}

func TestInventedProgrammeReplacesItsLikeOnly(t *testing.T) {
	target := filepath.Join(t.TempDir(), "programme")
	for range 2 {
		n, err := CreateInvented(target)
		if err != nil {
			t.Fatal(err)
		}
		if err := n.WriteFile("programme.json", nil); err != nil {
			t.Fatal(err)
		}
		if err := n.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := CreateFolder(target); !errors.Is(err, ErrNotOurs) {
		t.Errorf("results over a programme: %v, want ErrNotOurs", err)
	}
}

// A link at the target stays one: what it leads to is replaced.
func TestTargetThatIsALink(t *testing.T) {
	parent := t.TempDir()
	link, real := filepath.Join(parent, "latest"), filepath.Join(parent, "season")
	if err := os.Symlink("season", link); err != nil {
		t.Skipf("links can't be made here: %v", err)
	}
	if err := Writable(link); err == nil {
		t.Error("a link that leads nowhere is taken for a folder")
	}
	for i, target := range []string{real, link} {
		n := began(t, target)
		if err := n.WriteFile("run.json", []byte(strconv.Itoa(i))); err != nil {
			t.Fatal(err)
		}
		if err := n.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	if about, err := os.Lstat(link); err != nil || about.Mode()&os.ModeSymlink == 0 || content(t, filepath.Join(real, "run.json")) != "1" {
		t.Errorf("the link became %v (%v), its target says %s", about.Mode(), err, content(t, filepath.Join(real, "run.json")))
	}
}

func TestWritableLeavesNothingBehind(t *testing.T) {
	parent := t.TempDir()
	if err := os.WriteFile(filepath.Join(parent, "letter.txt"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := Writable(filepath.Join(parent, "a", "b", "results")); err != nil {
		t.Errorf("a free name is refused: %v", err)
	}
	for _, target := range []string{filepath.Join(parent, "letter.txt"), filepath.Join(parent, "letter.txt", "results")} {
		if err := Writable(target); err == nil {
			t.Errorf("%s is taken for a folder", target)
		}
	}
	if left := names(t, parent); len(left) != 1 {
		t.Errorf("the folder holds %q, want the letter only", left)
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
	for name, text := range map[string]string{"run.json": "earlier", mark: "run.json\n"} {
		if err := os.WriteFile(filepath.Join(aside, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
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

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func obeyed(t *testing.T, args ...string) string {
	t.Helper()
	said, err := exec.Command("earstone", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("earstone %s: %v\n%s", strings.Join(args, " "), err, said)
	}
	return string(said)
}

// TestProgrammeEstimatesAsItsTables makes a programme of an invented season and estimates
// from both: every table is the same, to the byte, but for the name of the run.
func TestProgrammeEstimatesAsItsTables(t *testing.T) {
	src := invent(t)
	dir := t.TempDir()
	kept := filepath.Join(dir, "kept")
	obeyed(t, "new", kept)
	obeyed(t, "import", src, "--into", kept)
	fromTables, fromKept := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	for out, from := range map[string]string{fromTables: src, fromKept: kept} {
		obeyed(t, "estimate", from, "--out", out, "--replicates", "40", "--key", "agreed_direct")
	}
	entries, err := os.ReadDir(fromTables)
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, entry := range entries {
		if !strings.HasSuffix(entry.Name(), ".csv") {
			continue
		}
		want, got := withoutRun(t, filepath.Join(fromTables, entry.Name())), withoutRun(t, filepath.Join(fromKept, entry.Name()))
		if want != got {
			t.Errorf("%s of the programme differs from that of its tables", entry.Name())
		}
		compared++
	}
	if compared < 5 {
		t.Errorf("%d tables were compared, which is too few to say anything", compared)
	}
}

// withoutRun is a table without its last column where that names the run.
func withoutRun(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	if !strings.HasSuffix(lines[0], ",run") {
		return string(text)
	}
	for i, line := range lines {
		if at := strings.LastIndexByte(line, ','); at >= 0 {
			lines[i] = line[:at]
		}
	}
	return strings.Join(lines, "\n")
}

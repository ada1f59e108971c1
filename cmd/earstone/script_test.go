package main

import (
	"errors"
	"flag"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// update rewrites what the command said in the scripts; it touches no number of an
// estimator, for those are held elsewhere against golden values.
var update = flag.Bool("update", false, "rewrite the expected output in testdata/*.txtar")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"earstone": main})
}

// TestScripts runs the stories in testdata.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata", UpdateScripts: *update, RequireUniqueNames: true, Setup: copyFaults,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": wantStatus,
			"finite": wantFinite,
			"told":   wantTold,
		},
	})
}

// wantStatus is "status N COMMAND...": the command must end with this very status.
func wantStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	var ended *exec.ExitError
	switch err := ts.Exec(args[1], args[2:]...); {
	case errors.As(err, &ended):
		got = ended.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("%v ended with status %d, want %d", args[1:], got, want)
	}
}

var notNumber = regexp.MustCompile(`(?i)(^|[^a-z])([-+]?nan|[-+]?inf(inity)?)([^a-z]|$)`)

// wantFinite is "finite FOLDER": no file in it holds a NaN or an infinity.
func wantFinite(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: finite FOLDER")
	}
	files := 0
	ts.Check(filepath.WalkDir(ts.MkAbs(args[0]), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		text, err := os.ReadFile(path)
		if at := notNumber.FindIndex(text); at != nil {
			ts.Fatalf("%s holds %q", d.Name(), text[max(0, at[0]-40):min(len(text), at[1]+40)])
		}
		return err
	}))
	if files == 0 {
		ts.Fatalf("%s holds no file", args[0])
	}
}

// wantTold is "told N FILE": the last standard output told N findings, and each line of
// the file is one of them.
func wantTold(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: told N FILE")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	told := map[string]bool{}
	for line := range strings.Lines(ts.ReadFile("stdout")) {
		severity, said, found := strings.Cut(strings.TrimSpace(line), ": ")
		if found && (severity == "error" || severity == "warning" || severity == "note") {
			told[said] = true
		}
	}
	if len(told) != want {
		ts.Fatalf("%d findings were told, want %d", len(told), want)
	}
	for line := range strings.Lines(ts.ReadFile(args[1])) {
		if line = strings.TrimSpace(line); !told[line] {
			ts.Fatalf("this was not told: %s", line)
		}
	}
}

// copyFaults brings the folder of faults of store/tables into a script, with dates that
// have come and, for the one that should not have come yet, a date that has not.
func copyFaults(env *testscript.Env) error {
	from := os.DirFS("../../store/tables/testdata/faults")
	return fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
		to := filepath.Join(env.WorkDir, "faults", name)
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.Mkdir(to, 0o777)
		}
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		return os.WriteFile(to, []byte(strings.NewReplacer("2031", "2025", "2032", "2925").Replace(string(text))), 0o666)
	})
}

package main

import (
	"bytes"
	"errors"
	"flag"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
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
		Dir: "testdata", UpdateScripts: *update, RequireUniqueNames: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status":  wantStatus,
			"finite":  wantFinite,
			"problem": wantProblems,
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

// wantProblems is "problem N": so many lines of the last standard output begin with "error:".
func wantProblems(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: problem N")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	for _, line := range bytes.Split([]byte(ts.ReadFile("stdout")), []byte("\n")) {
		if bytes.HasPrefix(line, []byte("error: ")) {
			got++
		}
	}
	if got != want {
		ts.Fatalf("%d problems were told, want %d", got, want)
	}
}

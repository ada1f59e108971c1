package house_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestTallyCountsAndKeepsFailures holds the script that reads `go test -v` for make test:
// were it to lose a failure, every other test here would be worth nothing.
func TestTallyCountsAndKeepsFailures(t *testing.T) {
	const said = `=== RUN   TestA
    a_test.go:1: chatter
--- PASS: TestA (0.00s)
PASS
ok  	earstone/a	0.01s
=== RUN   TestB
=== RUN   TestB/part
    b_test.go:2: B = 1, want 2
=== RUN   TestC
--- FAIL: TestB (0.00s)
    --- FAIL: TestB/part (0.00s)
--- PASS: TestC (0.00s)
FAIL
FAIL	earstone/b	0.02s
?   	earstone/c	[no test files]
# earstone/d
d/d.go:3: undefined: x
FAIL	earstone/d [build failed]
panic: test timed out after 1s
FAIL	earstone/e	1.00s
FAIL
`
	const want = `ok  	earstone/a	0.01s
    b_test.go:2: B = 1, want 2
--- FAIL: TestB (0.00s)
    --- FAIL: TestB/part (0.00s)
FAIL	earstone/b	0.02s
# earstone/d
d/d.go:3: undefined: x
FAIL	earstone/d [build failed]
panic: test timed out after 1s
FAIL	earstone/e	1.00s
`
	counts := filepath.Join(t.TempDir(), "counts")
	cmd := exec.Command("awk", "-v", "counts="+counts, "-f", ".ci/tally.awk")
	cmd.Stdin = strings.NewReader(said)
	got, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("running the tally: %v: %s", err, got)
	}
	if string(got) != want {
		t.Errorf("The tally lets through:\n%s\nwant:\n%s", got, want)
	}
	counted, err := os.ReadFile(counts)
	if err != nil {
		t.Fatalf("reading the counts: %v", err)
	}
	// TestA and TestC passed; TestB, the package that does not build and the one out of time did not.
	if string(counted) != "2 3\n" {
		t.Errorf("The tally counts %q passed and failed, want 2 and 3.", counted)
	}
}

func TestMissingGoIsSaidInWords(t *testing.T) {
	cmd := exec.Command("/bin/bash", ".ci/needs", "go")
	cmd.Env = []string{"PATH=" + t.TempDir()}
	said, err := cmd.CombinedOutput()
	if err == nil || !strings.HasPrefix(string(said), "go is missing. Go 1.26 or later ") {
		t.Errorf("Where there is no Go, .ci/needs says %q (%v), want words and a failure.", said, err)
	}
}

package main

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// block is a fenced block of a page with the line before it.
type block struct{ before, language, text string }

func blocksOf(t *testing.T, page string) (blocks []block) {
	t.Helper()
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	before, inside := "", false
	for line := range strings.Lines(string(text)) {
		fence, fenced := strings.CutPrefix(strings.TrimSpace(line), "```")
		switch {
		case fenced && !inside:
			blocks, inside = append(blocks, block{before: before, language: fence}), true
		case fenced:
			inside = false
		case inside:
			blocks[len(blocks)-1].text += line
		case strings.TrimSpace(line) != "":
			before = line
		}
	}
	return blocks
}

// shown is how many of each a page shows.
type shown struct{ files, commands, outputs int }

// follow does in a folder what a page says: it writes the files that are shown, runs the
// commands that are shown, and wants the output that is shown. What is added to estimates
// and plans spares time where no output is shown.
func follow(t *testing.T, page, dir, added string) (n shown) {
	t.Helper()
	var said string
	for _, b := range blocksOf(t, page) {
		switch b.language {
		case "json", "csv":
			name, _, found := strings.Cut(strings.TrimPrefix(b.before, "`"), "`")
			if !found {
				t.Fatalf("The %s block after %q has no file name.", b.language, b.before)
			}
			writeInto(t, dir, name, b.text)
			n.files++
		case "sh":
			for line := range strings.Lines(b.text) {
				if strings.HasPrefix(line, "earstone ") { // make demo and make test have tests of their own
					line, _, _ = strings.Cut(line, "#")
					line = strings.TrimSpace(line)
					if strings.HasPrefix(line, "earstone estimate ") || strings.HasPrefix(line, "earstone plan ") {
						line += added
					}
					said = obeyLine(t, dir, line)
					n.commands++
				}
			}
		case "text":
			n.outputs++
			if got, want := strings.TrimSpace(said), strings.TrimSpace(b.text); got != want {
				t.Errorf("%s shows\n%s\n\nand the command says\n%s", page, want, got)
			}
		}
	}
	return n
}

func writeInto(t *testing.T, dir, name, text string) {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// obeyLine runs a line as a shell does and tells what it said.
func obeyLine(t *testing.T, dir, line string) string {
	t.Helper()
	if strings.HasPrefix(line, "earstone serve ") {
		serveLine(t, dir, line)
		return ""
	}
	run := exec.Command("sh", "-c", line)
	run.Dir = dir
	out, err := run.Output()
	if err != nil {
		t.Errorf("%s: %v\n%s", line, err, out)
	}
	return string(out)
}

// serveLine runs a line that serves, on a port that is free, until it says where.
func serveLine(t *testing.T, dir, line string) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	run := exec.CommandContext(ctx, "sh", "-c", "exec "+line+" --listen 127.0.0.1:0")
	run.Dir = dir
	run.Cancel = func() error { return run.Process.Signal(os.Interrupt) }
	out, err := run.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := run.Start(); err != nil {
		t.Fatal(err)
	}
	said, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || !strings.Contains(said, "stands open at http://") {
		t.Errorf("%s said %q (%v), want where it stands open", line, said, err)
	}
	stop()
	_, _ = io.Copy(io.Discard, out)
	_ = run.Wait() // it was interrupted
}

func TestFirstHour(t *testing.T) {
	dir := t.TempDir()
	if got, want := follow(t, "../../README.md", dir, ""), (shown{files: 6, commands: 9, outputs: 1}); got != want {
		t.Errorf("The README shows %+v, want %+v: the test no longer finds them.", got, want)
	}
	for _, name := range []string{"results/report.html", "results/run.json", "results/catch_at_age.csv", "plan/quotas.csv", "kit/guide.pdf", "letters/notice.pdf"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Errorf("After the first hour: %v", err)
		}
	}
}

// TestGuides follows each guide in a folder with a programme as tables (skell), the same
// as a notebook, its results, and addresses.
func TestGuides(t *testing.T) {
	base := t.TempDir()
	for _, line := range []string{"earstone demo --dir . --size small --replicates 40", "mv programme skell",
		"earstone new skell-notebook", "earstone import skell --into skell-notebook"} {
		obeyLine(t, base, line)
	}
	writeInto(t, base, "addresses.csv", "contributor,name,address\nC001,Ada Quill,Pier 1 / Skell\n")
	pages, err := filepath.Glob("../../docs/guide-*.md")
	if err != nil {
		t.Fatal(err)
	}
	commands := 0
	for _, page := range pages {
		t.Run(filepath.Base(page), func(t *testing.T) {
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(base)); err != nil {
				t.Fatal(err)
			}
			commands += follow(t, page, dir, " --replicates 60").commands
		})
	}
	if len(pages) < 5 || commands < 20 {
		t.Errorf("%d guides show %d commands: the test no longer finds them.", len(pages), commands)
	}
}

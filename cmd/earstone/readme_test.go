package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// block is a fenced block of README.md with the line before it.
type block struct{ before, language, text string }

func readmeBlocks(t *testing.T) []block {
	t.Helper()
	page, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	var blocks []block
	before, inside := "", false
	for line := range strings.Lines(string(page)) {
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

// TestFirstHour does what the README's first hour says: it writes the files that are shown,
// runs the commands that are shown, and wants the output that is shown.
func TestFirstHour(t *testing.T) {
	dir := t.TempDir()
	var said string
	files, commands, outputs := 0, 0, 0
	for _, b := range readmeBlocks(t) {
		switch b.language {
		case "json", "csv":
			name, _, found := strings.Cut(strings.TrimPrefix(b.before, "`"), "`")
			if !found {
				t.Fatalf("The %s block after %q has no file name.", b.language, b.before)
			}
			path := filepath.Join(dir, name)
			if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(b.text), 0o666); err != nil {
				t.Fatal(err)
			}
			files++
		case "sh":
			for line := range strings.Lines(b.text) {
				words := strings.Fields(line)
				if words[0] != "earstone" {
					continue // make demo and make test have tests of their own
				}
				run := exec.Command(words[0], words[1:]...)
				run.Dir = dir
				out, err := run.Output()
				if err != nil {
					t.Errorf("%s: %v\n%s", strings.TrimSpace(line), err, out)
				}
				said = string(out)
				commands++
			}
		case "text":
			outputs++
			if got, want := strings.TrimSpace(said), strings.TrimSpace(b.text); got != want {
				t.Errorf("The README shows\n%s\n\nand the command says\n%s", want, got)
			}
		}
	}
	if files != 6 || commands != 2 || outputs != 1 {
		t.Errorf("The README shows %d files, %d commands and %d outputs, want 6, 2 and 1: the test no longer finds them.", files, commands, outputs)
	}
	for _, name := range []string{"report.html", "run.json", "catch_at_age.csv"} {
		if _, err := os.Stat(filepath.Join(dir, "results", name)); err != nil {
			t.Errorf("After the first hour: %v", err)
		}
	}
}

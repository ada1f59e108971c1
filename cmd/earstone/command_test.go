package main

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"earstone/programme/finding"
)

// fullDisk takes nothing.
type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

func TestPrintoutThatIsLostFails(t *testing.T) {
	var told bytes.Buffer
	to := &output{out: &printed{to: fullDisk{}}, err: &told, clock: time.Now}
	if got := obey(context.Background(), []string{"version"}, to); got != failed || !strings.Contains(told.String(), "no space left") {
		t.Errorf("version onto a full disk ends with status %d and says %q, want %d and why", got, told.String(), failed)
	}
}

func TestMistakeOfOursIsOneSentence(t *testing.T) {
	var told bytes.Buffer
	to := &output{out: &told, err: &told, clock: time.Now}
	c := command{name: "estimate", run: func(context.Context, *output) (status, error) { panic("catch: row or key has the wrong length") }}
	got := to.end(context.Background(), c)
	if got != failed || strings.Count(told.String(), "\n") != 1 || !strings.Contains(told.String(), "row or key has the wrong length") {
		t.Errorf("a panic ends with status %d and says %q, want %d and one line", got, told.String(), failed)
	}
}

// Signs that act on a terminal never reach it, whatever a cell holds.
func TestTerminalIsNotActedOn(t *testing.T) {
	var told bytes.Buffer
	to := &output{out: &told, err: &told, clock: time.Now}
	to.say("%s", "gear \x1b[2Jnet\x07\u202e, 14\u00a0800")
	if got := told.String(); got != "gear [2Jnet, 14\u00a0800\n" {
		t.Errorf("the terminal is told %q", got)
	}
}

func TestWhatIsSaidAlikeIsSaidOnce(t *testing.T) {
	list := &finding.List{}
	for row := 2; row <= 21; row++ {
		list.Add(finding.NotListed, finding.Place{File: "readings.csv", Row: row, Column: "edge"}, "W", "narrow", "wide", "")
	}
	list.Add(finding.NotListed, finding.Place{File: "readings.csv", Row: 22, Column: "edge"}, "X", "narrow", "wide", "")
	for row := range 40 {
		list.Add(finding.Implausible, finding.Place{File: "lengths.csv", Row: row + 2, Column: "length"}, strings.Repeat("9", row+4), "maximum_length", "320")
	}
	got := lines(list)
	if len(got) != 2+mostAlike || !strings.HasSuffix(got[0], " The same in rows 3, 4, 5, 6, 7 and 14 more.") || !strings.HasPrefix(got[1], `error: readings.csv, row 22, edge: "X"`) {
		t.Errorf("61 findings are told in %d lines: %q", len(got), got[:2])
	}
	if last := got[len(got)-1]; !strings.HasSuffix(last, " Likewise in rows 12, 13, 14, 15, 16 and 25 more.") {
		t.Errorf("the last line is %q", last)
	}
	if slices.ContainsFunc(got, func(line string) bool { return line == "" }) {
		t.Error("a line is empty")
	}
}

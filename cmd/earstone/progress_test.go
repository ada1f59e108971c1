package main

import (
	"strings"
	"testing"
	"time"
)

// watch is a clock that moves when told.
type watch struct{ now time.Time }

func (w *watch) clock() time.Time { return w.now }

func newWatch() *watch { return &watch{time.Date(2031, 5, 1, 9, 0, 0, 0, time.UTC)} }

func TestProgressOffTerminal(t *testing.T) {
	var out strings.Builder
	w := newWatch()
	p := &progress{to: &out, clock: w.clock}
	for done := range 26 {
		p.tell("replicates", done*40, 1000)
		w.now = w.now.Add(500 * time.Millisecond)
	}
	p.clear()
	// Steps of 40 each half second: after 5 s 400 are done, and 600 take 7.5 s more.
	const want = "replicates: 400 of 1\u202f000, about 8 s left\nreplicates: 800 of 1\u202f000, about 3 s left\n"
	if out.String() != want {
		t.Errorf("Off a terminal 12 s of work tell\n%swant\n%s", out.String(), want)
	}
}

func TestShortWorkTellsNothingOffTerminal(t *testing.T) {
	var out strings.Builder
	w := newWatch()
	p := &progress{to: &out, clock: w.clock}
	for done := range 11 {
		p.tell("replicates", done, 10)
		w.now = w.now.Add(100 * time.Millisecond)
	}
	if out.String() != "" {
		t.Errorf("A second of work tells %q in a log, want nothing.", out.String())
	}
}

func TestProgressOnTerminal(t *testing.T) {
	var out strings.Builder
	w := newWatch()
	p := &progress{to: &out, clock: w.clock, width: func() int { return 40 }}
	p.tell("reading quarrow", 0, 0)
	p.tell("replicates", 0, 1000)
	w.now = w.now.Add(50 * time.Millisecond)
	p.tell("replicates", 10, 1000) // too soon to draw
	w.now = w.now.Add(2 * time.Second)
	p.tell("replicates", 500, 1000)
	p.tell("a stage whose name is longer than the terminal is wide", 0, 0)
	p.clear()
	p.clear() // there is nothing left to take away
	const want = "\r\x1b[Kreading quarrow ...\r\x1b[Kreplicates: 0 of 1\u202f000" +
		"\r\x1b[Kreplicates: 500 of 1\u202f000, about 3 s lef\r\x1b[Ka stage whose name is longer than the t\r\x1b[K"
	if out.String() != want {
		t.Errorf("A terminal of 40 columns is sent\n%q, want\n%q", out.String(), want)
	}
}

func TestSpan(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want string
	}{{0, "0 s"}, {1100 * time.Millisecond, "2 s"}, {130 * time.Second, "2 min 10 s"}, {3*time.Hour + 5*time.Minute, "3 h 5 min"}} {
		if got := span(c.d); got != c.want {
			t.Errorf("%v is told as %q, want %q", c.d, got, c.want)
		}
	}
}

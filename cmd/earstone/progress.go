package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"earstone/pages/words"
)

// progress tells how far long work is: on a terminal one line that is written over, else
// a plain line every few seconds, so that a log stays readable.
type progress struct {
	to    io.Writer
	clock func() time.Time
	width func() int // of the terminal; nil: it is none

	stage string
	since time.Time // when the stage began
	last  time.Time // when something was last written
	shown bool      // a line stands on the terminal
}

const (
	everyLine = 5 * time.Second        // between plain lines
	everyDraw = 100 * time.Millisecond // between changes of the terminal's line
)

// tell says that done of so many steps of a stage are done; of 0 counts no steps.
func (p *progress) tell(stage string, done, of int) {
	now := p.clock()
	if stage != p.stage {
		p.stage, p.since = stage, now
		if p.last.IsZero() {
			p.last = now // the first plain line waits as long as any
		}
		if p.width != nil {
			p.draw(now, done, of)
		}
		return
	}
	switch {
	case p.width != nil && (now.Sub(p.last) >= everyDraw || done == of):
		p.draw(now, done, of)
	case p.width == nil && now.Sub(p.last) >= everyLine:
		p.last = now
		fmt.Fprintln(p.to, p.line(now, done, of))
	}
}

func (p *progress) draw(now time.Time, done, of int) {
	p.last, p.shown = now, true
	line := []rune(p.line(now, done, of))
	if most := p.width() - 1; len(line) > most && most > 0 {
		line = line[:most]
	}
	fmt.Fprintf(p.to, "\r\x1b[K%s", string(line))
}

// clear takes the line off the terminal.
func (p *progress) clear() {
	if p.shown {
		fmt.Fprint(p.to, "\r\x1b[K")
		p.shown = false
	}
}

// line is "replicates: 320 of 1,000, about 3 s left".
func (p *progress) line(now time.Time, done, of int) string {
	if of <= 0 {
		return p.stage + " ..."
	}
	var said strings.Builder
	fmt.Fprintf(&said, "%s: %s of %s", p.stage, words.Count(done), words.Count(of))
	if gone := now.Sub(p.since); done > 0 && done < of && gone >= time.Second/2 {
		left := time.Duration(float64(gone) / float64(done) * float64(of-done))
		said.WriteString(", about " + span(left) + " left")
	}
	return said.String()
}

// span is a stretch of time in words: 8 s, 2 min 10 s, 3 h 5 min.
func span(d time.Duration) string {
	seconds := int(math.Ceil(d.Seconds()))
	switch {
	case seconds < 60:
		return fmt.Sprintf("%d s", seconds)
	case seconds < 3600:
		return fmt.Sprintf("%d min %d s", seconds/60, seconds%60)
	}
	return fmt.Sprintf("%d h %d min", seconds/3600, seconds%3600/60)
}

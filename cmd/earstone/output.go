package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"

	"earstone/pages/words"
	"earstone/programme/date"
)

// output is where a command speaks: results to out, everything else to err.
type output struct {
	out, err io.Writer
	json     bool // objects on out, and no progress
	clock    func() time.Time
	progress *progress
}

// printed is where results go; it keeps the first trouble, such as a full disk.
type printed struct {
	to      io.Writer
	trouble error
}

func (p *printed) Write(text []byte) (int, error) {
	n, err := p.to.Write(text)
	if p.trouble == nil {
		p.trouble = err
	}
	return n, err
}

func newOutput(out, err *os.File) *output {
	to := &output{out: &printed{to: out}, err: err, clock: time.Now}
	to.progress = &progress{to: err, clock: time.Now}
	if term.IsTerminal(int(err.Fd())) {
		to.progress.width = func() int {
			width, _, sizeErr := term.GetSize(int(err.Fd()))
			if sizeErr != nil {
				return 80
			}
			return width
		}
	}
	return to
}

// today is the day by the clock.
func (to *output) today() date.Day {
	now := to.clock()
	return date.On(now.Year(), int(now.Month()), now.Day())
}

// told is what a long piece of work reports to; nil when nobody listens.
func (to *output) told() func(stage string, done, of int) {
	if to.json || to.progress == nil {
		return nil
	}
	return to.progress.tell
}

// begin names a stage that does not count its steps.
func (to *output) begin(stage string) {
	if tell := to.told(); tell != nil {
		tell(stage, 0, 0)
	}
}

// clear takes the line of progress off the terminal.
func (to *output) clear() {
	if to.progress != nil {
		to.progress.clear()
	}
}

// lost is the trouble that printing had.
func (to *output) lost() error {
	if p, is := to.out.(*printed); is && p.trouble != nil {
		return fmt.Errorf("printing: %w", p.trouble)
	}
	return nil
}

// say prints a line for a person, without signs that would act on the terminal.
func (to *output) say(format string, args ...any) {
	to.clear()
	fmt.Fprintln(to.out, words.Plain(fmt.Sprintf(format, args...)))
}

// object prints one line of JSON.
func (to *output) object(value any) error {
	encoder := json.NewEncoder(to.out)
	encoder.SetEscapeHTML(false)
	return encoder.Encode(value)
}

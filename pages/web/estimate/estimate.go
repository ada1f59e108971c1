// Package estimate is the page of runs: start one, watch it, and open its numbers.
//
// A run is work of a queue: it belongs to the programme and not to the browser that asked
// for it. What it wrote is read from its tables, so that the page, the files and whoever
// loads them see the same numbers.
package estimate

import (
	"cmp"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"strings"
	"time"

	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/store/jobs"
)

//go:embed runs.html run.html beneath.html compare.html
var files embed.FS

var (
	listPage    = frame.Parse(frame.Estimate, files, "runs.html")
	runPage     = frame.Parse(frame.Estimate, files, "run.html")
	beneathPage = frame.Parse(frame.Estimate, files, "beneath.html")
	comparePage = frame.Parse(frame.Estimate, files, "compare.html")
)

// Kind is the kind of work that a run is in its queue.
const Kind = "estimate"

// Page starts runs and shows them.
type Page struct {
	queue jobs.Queue
	now   func() time.Time
}

// New is the page of a queue.
func New(queue jobs.Queue, now func() time.Time) *Page { return &Page{queue, now} }

// list is what the page of all runs shows.
type list struct {
	Form form
	Runs []line
	Two  bool // there are two that can be compared
	Busy bool
}

// line is one run in a list.
type line struct {
	ID, When, By, Settings, State string
	Done, Open                    bool
}

var stateWords = map[jobs.State]string{
	jobs.Waiting: "waits for the run before it", jobs.Running: "runs", jobs.Done: "done", jobs.Stopped: "stopped",
	jobs.Failed: "gave no result", jobs.Left: "left behind when the server ended",
}

func lineOf(j jobs.Job) line {
	return line{j.ID, when(j.At), j.By, askedOf(j.Asked).settings(), stateWords[j.State], j.State == jobs.Done, j.State.Open()}
}

func when(t time.Time) string { return t.UTC().Format("2 January 2006, 15:04 UTC") }

// Runs shows all runs, and the button that starts one.
func (p *Page) Runs(r *frame.Request) (frame.Answer, error) {
	view, err := p.list(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	seed, err := fresh()
	if err != nil {
		return frame.Answer{}, err
	}
	view.Form = newForm(Asked{Replicates: usualReplicates, Seed: seed})
	a := listPage.Show("Estimate", view)
	if view.Busy {
		a.Refresh = 5
	}
	return a, nil
}

func (p *Page) list(ctx context.Context) (list, error) {
	all, err := p.queue.Jobs(ctx)
	if err != nil {
		return list{}, fmt.Errorf("reading the runs: %w", err)
	}
	var view list
	done := 0
	for _, j := range all {
		if j.Kind != Kind {
			continue
		}
		view.Runs = append(view.Runs, lineOf(j))
		view.Busy = view.Busy || j.State.Open()
		if j.State == jobs.Done {
			done++
		}
	}
	view.Two = done > 1
	return view, nil
}

// Start puts a run into the queue and goes on to watch it.
func (p *Page) Start(r *frame.Request) (frame.Answer, error) {
	asked, form, good := read(r)
	if !good {
		view, err := p.list(r.Context())
		view.Form = form
		return listPage.Again("Estimate", view), err
	}
	text, err := json.Marshal(asked)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("writing what is asked for: %w", err)
	}
	j, err := p.queue.Ask(r.Context(), Kind, text, r.By())
	if err != nil {
		return frame.Answer{}, inWords(err)
	}
	return frame.Next("/estimate/" + j.ID), nil
}

var errNoRun = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such run.", Do: "The page Estimate lists all."}

// inWords gives words to the errors of a queue.
func inWords(err error) error {
	switch {
	case errors.Is(err, jobs.ErrNone):
		return errNoRun
	case errors.Is(err, jobs.ErrMany):
		return frame.Trouble{Status: http.StatusTooManyRequests, Says: "Too many runs wait already.", Do: "Stop some of them, or wait until they are done."}
	}
	return fmt.Errorf("asking for runs: %w", err)
}

// job is the run that the address names.
func (p *Page) job(r *frame.Request, id string) (jobs.Job, error) {
	j, err := p.queue.Job(r.Context(), id)
	if err == nil && j.Kind != Kind {
		err = jobs.ErrNone
	}
	if err != nil {
		return jobs.Job{}, inWords(err)
	}
	return j, nil
}

// results are the files of a run that is done.
func (p *Page) results(r *frame.Request, id string) (fs.FS, error) {
	if _, err := p.job(r, id); err != nil {
		return nil, err
	}
	folder, err := p.queue.Results(r.Context(), id)
	if errors.Is(err, jobs.ErrNone) {
		return nil, frame.Trouble{Status: http.StatusNotFound, Says: "This run has no results.", Do: "The page of the run tells how it went."}
	}
	return folder, err
}

// shown is what the page of one run shows.
type shown struct {
	line
	Says        []string
	Again       bool // it can be done again
	Stage, Left string
	Steps, Of   int
	Gone        string // how many of how many steps
	Took        string
	Numbers     *numbers // of a run that is done and has a catch at age
	Files       []string
}

// Run shows how a run goes, or what came of it.
func (p *Page) Run(r *frame.Request) (frame.Answer, error) {
	j, err := p.job(r, r.PathValue("run"))
	if err != nil {
		return frame.Answer{}, err
	}
	v := shown{line: lineOf(j), Says: j.Says, Again: !j.State.Open() && j.State != jobs.Done, Stage: cmp.Or(j.Stage, "beginning"), Steps: j.Steps, Of: j.Of}
	if j.Of > 0 {
		v.Gone = words.Count(j.Steps) + " of " + words.Count(j.Of)
	}
	if left, ok := j.Left(p.now()); ok {
		v.Left = "about " + span(left) + " left"
	}
	if j.State == jobs.Done {
		v.Took = span(j.Ended.Sub(j.Begun))
		folder, err := p.results(r, j.ID)
		if err != nil {
			return frame.Answer{}, err
		}
		if v.Numbers, err = readNumbers(folder, j.ID, placeOf(r)); err != nil {
			return frame.Answer{}, err
		}
		if v.Files, err = tablesIn(folder); err != nil {
			return frame.Answer{}, err
		}
	}
	a := runPage.Show("Run of "+v.When, v)
	if j.State.Open() {
		a.Refresh = 3
	}
	return a, nil
}

// span is a stretch of time in words.
func span(d time.Duration) string {
	seconds := int((d + time.Second - 1) / time.Second)
	switch {
	case seconds < 60:
		return fmt.Sprintf("%d s", seconds)
	case seconds < 3600:
		return fmt.Sprintf("%d min %d s", seconds/60, seconds%60)
	}
	return fmt.Sprintf("%d h %d min", seconds/3600, seconds%3600/60)
}

// Stop ends a run that waits or runs.
func (p *Page) Stop(r *frame.Request) (frame.Answer, error) { return p.act(r, p.queue.Stop) }

// Again does a run again that gave no result.
func (p *Page) Again(r *frame.Request) (frame.Answer, error) { return p.act(r, p.queue.Again) }

func (p *Page) act(r *frame.Request, what func(context.Context, string) error) (frame.Answer, error) {
	j, err := p.job(r, r.PathValue("run"))
	if err != nil {
		return frame.Answer{}, err
	}
	if err := what(r.Context(), j.ID); err != nil {
		return frame.Answer{}, inWords(err)
	}
	return frame.Next("/estimate/" + j.ID), nil
}

// mostReport bounds the report that is held in memory.
const mostReport = 64 << 20

// Report sends the report of a run. It carries its style and its pictures inside it, which
// no other page may: the browser takes the style by its hash alone, runs no script, and
// keeps the page apart from the notebook.
func (p *Page) Report(r *frame.Request) (frame.Answer, error) {
	folder, err := p.results(r, r.PathValue("run"))
	if err != nil {
		return frame.Answer{}, err
	}
	file, err := folder.Open("report.html")
	if err != nil {
		return frame.Answer{}, fmt.Errorf("opening the report: %w", err)
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, mostReport))
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading the report: %w", err)
	}
	_, rest, _ := strings.Cut(string(text), "<style>")
	style, _, there := strings.Cut(rest, "</style>")
	if !there {
		return frame.Answer{}, errors.New("the report has no style")
	}
	sum := sha256.Sum256([]byte(style))
	return frame.Streamed(frame.Stream{Kind: "text/html; charset=utf-8", Alone: true,
		Policy: "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox",
		Write:  func(to io.Writer) error { _, err := to.Write(text); return err }}), nil
}

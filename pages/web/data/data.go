// Package data gives tables and results to programs, each at an address that stays.
//
// An address names a table and a form: /data/fish.csv is all fish as they are now,
// /data/runs/latest/catch_at_age.json the catch at age of the last run. What is sent is
// what an export writes. A program shows a token, which is good for reading and nothing
// else.
package data

import (
	"bufio"
	"cmp"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"slices"
	"strings"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/accounts"
	"earstone/store/book"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/tables"
)

//go:embed data.html
var files embed.FS

var page = frame.Parse(frame.NoStage, files, "data.html")

// Page gives the tables of a store and the results of a queue.
type Page struct {
	store     history.Store
	queue     jobs.Queue
	kind      string // of work whose results are given
	programme string
	reading   chan struct{} // one program reads the records at a time: each takes the memory of all of them
}

// Who may load records, and who results; none of them is a reader alone, whom a length, a
// day or a place would unblind.
const (
	Records = accounts.Coordinator | accounts.Bench | accounts.Analyst
	Results = accounts.Coordinator | accounts.Analyst | accounts.Administrator
)

// New gives the tables of a store and the results of the work of a kind.
func New(store history.Store, queue jobs.Queue, kind, programme string) *Page {
	return &Page{store, queue, kind, programme, make(chan struct{}, 1)}
}

// view is what the page for people shows.
type view struct {
	Tables, Results []string
	Forms           []string
	Base            string
	Records, Runs   bool // this person may load them
}

// About tells people how a program loads what stands here.
func (p *Page) About(r *frame.Request) (frame.Answer, error) {
	v := view{Tables: tables.Names(), Forms: tables.Forms(), Base: "http://" + r.Host, Records: r.Who.Roles.Has(Records), Runs: r.Who.Roles.Has(Results)}
	if r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https" {
		v.Base = "https://" + r.Host
	}
	if id, err := p.run(r.Context(), latest); err == nil {
		if folder, err := p.queue.Results(r.Context(), id); err == nil {
			names, err := fs.Glob(folder, "*.csv")
			if err != nil {
				return frame.Answer{}, fmt.Errorf("listing results: %w", err)
			}
			for _, name := range names {
				v.Results = append(v.Results, strings.TrimSuffix(name, ".csv"))
			}
		}
	}
	return page.Show("Data for programs", v), nil
}

var errNoTable = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such table in this form.", Do: "The page Data lists all; the forms are csv, json and parquet."}

// media are the media types of the forms.
var media = map[string]string{"csv": "text/csv; charset=utf-8; header=present", "json": "application/json", "parquet": "application/vnd.apache.parquet"}

// named is the table and the form of a file's name.
func named(file string) (table, form string, ok bool) {
	table, form, ok = strings.Cut(file, ".")
	return table, form, ok && table != "" && slices.Contains(tables.Forms(), form)
}

// Table sends one table as it is now.
func (p *Page) Table(r *frame.Request) (frame.Answer, error) {
	name, form, ok := named(r.PathValue("file"))
	if !ok || !slices.Contains(tables.Names(), name) {
		return frame.Answer{}, errNoTable
	}
	return frame.Streamed(frame.Stream{Kind: media[form], Name: r.PathValue("file"), Write: func(to io.Writer) error {
		made, err := p.made(r.Context(), form, name)
		if err != nil {
			return err
		}
		defer os.Remove(made.Name())
		defer made.Close()
		_, err = io.Copy(to, made)
		return err
	}}), nil
}

// made is a file of a table as it is now, which the caller closes and takes away. Nothing
// is sent while the records are held: a slow program would keep all others from them.
func (p *Page) made(ctx context.Context, form, name string) (made *os.File, err error) {
	select {
	case p.reading <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-p.reading }()
	if made, err = os.CreateTemp("", "earstone-table-"); err != nil {
		return nil, fmt.Errorf("making a file for a table: %w", err)
	}
	if err = p.write(ctx, made, form, name); err == nil {
		_, err = made.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, made.Close(), os.Remove(made.Name()))
	}
	return made, nil
}

func (p *Page) write(ctx context.Context, to io.Writer, form, name string) error {
	records, err := book.Read(ctx, p.store)
	if err != nil {
		return fmt.Errorf("reading the records: %w", err)
	}
	held, err := records.Book()
	if err != nil {
		return fmt.Errorf("reading the records: %w", err)
	}
	out := bufio.NewWriterSize(to, 256<<10)
	return errors.Join(tables.WriteTable(out, form, name, held, records.Lengths), out.Flush())
}

// latest names the last run that is done.
const latest = "latest"

// run is the ID of a run that has results.
func (p *Page) run(ctx context.Context, name string) (string, error) {
	all, err := p.runs(ctx)
	if err != nil {
		return "", err
	}
	for _, j := range all {
		if name == latest || j.ID == name {
			return j.ID, nil
		}
	}
	return "", frame.Trouble{Status: http.StatusNotFound, Says: "There is no such run with results.", Do: "runs.json lists all; latest is the last one."}
}

// runs are those that have results, the newest first.
func (p *Page) runs(ctx context.Context) ([]jobs.Job, error) {
	all, err := p.queue.Jobs(ctx)
	if err != nil {
		return nil, fmt.Errorf("reading the runs: %w", err)
	}
	return slices.DeleteFunc(all, func(j jobs.Job) bool { return j.Kind != p.kind || j.State != jobs.Done }), nil
}

// Result sends one table of a run.
func (p *Page) Result(r *frame.Request) (frame.Answer, error) {
	name, form, ok := named(r.PathValue("file"))
	if !ok {
		return frame.Answer{}, errNoTable
	}
	id, err := p.run(r.Context(), r.PathValue("run"))
	if err != nil {
		return frame.Answer{}, err
	}
	folder, err := p.queue.Results(r.Context(), id)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("opening the results of a run: %w", err)
	}
	if !fs.ValidPath(name) || strings.ContainsAny(name, `/\`) {
		return frame.Answer{}, errNoTable
	}
	file, err := folder.Open(name + ".csv")
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return frame.Answer{}, errNoTable
	case err != nil:
		return frame.Answer{}, fmt.Errorf("opening a result: %w", err)
	}
	return frame.Streamed(frame.Stream{Kind: media[form], Name: r.PathValue("file"), Write: func(to io.Writer) error {
		defer file.Close()
		return tables.WriteResult(to, form, name, file)
	}}), nil
}

// runObject is one run as a program sees it.
type runObject struct {
	ID     string          `json:"id"`
	Asked  json.RawMessage `json:"asked"`
	By     string          `json:"by"`
	Begun  time.Time       `json:"begun"`
	Ended  time.Time       `json:"ended"`
	Tables []string        `json:"tables"`
}

// Runs sends the list of runs that have results, the newest first.
func (p *Page) Runs(r *frame.Request) (frame.Answer, error) {
	all, err := p.runs(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	list := make([]runObject, 0, len(all))
	for _, j := range all {
		one := runObject{ID: j.ID, Asked: j.Asked, By: j.By, Begun: j.Begun.UTC(), Ended: j.Ended.UTC()}
		folder, err := p.queue.Results(r.Context(), j.ID)
		if err != nil {
			return frame.Answer{}, fmt.Errorf("opening the results of a run: %w", err)
		}
		names, err := fs.Glob(folder, "*.csv")
		if err != nil {
			return frame.Answer{}, fmt.Errorf("listing results: %w", err)
		}
		for _, name := range names {
			one.Tables = append(one.Tables, strings.TrimSuffix(name, ".csv"))
		}
		list = append(list, one)
	}
	return object(list)
}

// object answers with JSON.
func object(value any) (frame.Answer, error) {
	text, err := json.MarshalIndent(value, "", "  ")
	if err != nil {
		return frame.Answer{}, fmt.Errorf("writing JSON: %w", err)
	}
	return frame.Streamed(frame.Stream{Kind: media["json"], Write: func(to io.Writer) error {
		_, err := to.Write(append(text, '\n'))
		return err
	}}), nil
}

// Description sends the OpenAPI description of all addresses.
func (p *Page) Description(*frame.Request) (frame.Answer, error) { return object(p.describe()) }

// Refusal is what a program is told instead of a page.
func Refusal(t frame.Trouble) frame.Answer {
	a, err := object(map[string]string{"says": t.Says, "do": t.Do})
	if err != nil {
		panic("data: " + err.Error()) // two texts are always JSON
	}
	a.Status = cmp.Or(t.Status, http.StatusInternalServerError)
	return a
}

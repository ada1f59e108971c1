package main

import (
	"context"
	"errors"
	"fmt"

	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/store/book"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// importTakes are the arguments of import.
type importTakes struct {
	File   []string `arg:"" name:"FILE" help:"Tables: .csv files named after their table, .xlsx workbooks, .parquet files, programme.json, or a folder of them. Or one programme alone, which went apart from SRC: its journal is joined."`
	Into   string   `help:"The programme: a folder made by earstone new." required:"" placeholder:"SRC"`
	DryRun bool     `help:"Tell every problem and what would be taken, and take nothing."`
	JSON   bool     `help:"Print one JSON object a problem and one a table, and no progress."`
	writes
}

func importCommand() command {
	var in importTakes
	return command{
		name: "import",
		does: "Take tables into a programme: all of them, or none when there are errors.",
		example: "earstone import trips.csv fish.csv readings.csv --into quarrow-banks\n" +
			"earstone import season-2031.xlsx --into quarrow-banks --dry-run\n" +
			"earstone import /media/disk/boat-copy --into quarrow-banks",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.take(ctx, to) },
	}
}

func (in *importTakes) take(ctx context.Context, to *output) (ended status, err error) {
	to.json = in.JSON
	store, err := sqlite.Open(ctx, in.Into)
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	for _, file := range in.File {
		if sqlite.Is(file) {
			return in.join(ctx, to, store)
		}
	}
	files, err := tables.OpenFiles(in.File)
	if err != nil {
		return failed, err
	}
	defer func() {
		for _, file := range files {
			_ = file.Close() // they were read only
		}
	}()
	plan, err := book.Make(ctx, store, files, book.Job{Who: in.who(), When: to.clock(), Progress: to.told()}, to.today())
	if err != nil {
		return failed, err
	}
	ended, err = to.findings(plan.Found)
	if err != nil {
		return failed, err
	}
	if plan.Found.Of(finding.Error) > 0 {
		if !to.json {
			to.say("Nothing was taken: mend the errors first.")
		}
		return ended, nil
	}
	if !in.DryRun && len(plan.Entries) > 0 {
		store.Progress = in.keeping(to)
		if err := store.Append(ctx, plan.Entries...); err != nil {
			return failed, err
		}
		if err := takePictures(ctx, to, in.File, in.Into, store); err != nil {
			return failed, err
		}
	}
	return done, in.tell(to, plan)
}

func (in *importTakes) keeping(to *output) func(done, of int) {
	tell := to.told()
	if tell == nil {
		return nil
	}
	return func(done, of int) { tell("keeping", done, of) }
}

// changeObject is what a table of a file brought, as JSON.
type changeObject struct {
	File      string `json:"file"`
	New       int    `json:"new"`
	Corrected int    `json:"corrected"`
	Same      int    `json:"same"`
	Taken     bool   `json:"taken"`
}

// tell says what was taken, table by table.
func (in *importTakes) tell(to *output, plan *book.Plan) error {
	for _, c := range plan.Changes {
		if to.json {
			if err := to.object(changeObject{c.File, c.New, c.Corrected, c.Same, !in.DryRun}); err != nil {
				return err
			}
			continue
		}
		said := fmt.Sprintf("%s new, %s corrected, %s as they were", words.Count(c.New), words.Count(c.Corrected), words.Count(c.Same))
		if c.Known {
			said = "was taken in before; nothing of it is new"
		}
		to.say("%s: %s", c.File, said)
	}
	switch {
	case to.json:
	case in.DryRun:
		to.say("This was a dry run: nothing was taken.")
	case len(plan.Entries) == 0:
		to.say("Nothing is new: %s is as it was.", in.Into)
	default:
		to.say("Taken into %s: %s.", in.Into, plural(len(plan.Entries), "entry", "entries"))
	}
	return nil
}

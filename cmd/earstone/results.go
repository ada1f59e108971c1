package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"earstone/estimate/run"
	"earstone/pages/report"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/store/tables"
)

// results are what a run found, with what it was run on.
type results struct {
	outcome *run.Outcome
	inputs  []tables.Input
	found   *finding.List // of reading, rules and run
	begun   time.Time
	reading time.Duration
	truth   report.Truth // of an invented programme
	areas   []record.Area
	beneath bool // write the fish and trips beneath each number as well

	invented *inventedTruth // of the same; nil: the programme is a real one
}

// write writes the results into a folder that gets its name when all of it is there.
func (r *results) write(ctx context.Context, out string, clock func() time.Time) error {
	folder, err := tables.CreateFolder(out)
	if err != nil {
		return err
	}
	defer folder.Discard() // after Commit it does nothing
	about, err := r.about()
	if err != nil {
		return err
	}
	for _, t := range r.outcome.Plains() {
		if err := writePlain(folder.Folder, t); err != nil {
			return err
		}
	}
	for _, t := range r.outcome.Tables() {
		if err := writeTable(folder.Folder, t, about.Run); err != nil {
			return err
		}
	}
	if r.beneath {
		if err := r.writeBeneath(folder.Folder); err != nil {
			return err
		}
	}
	err = folder.Write("report.html", func(to io.Writer) error { return report.Write(to, r.outcome, r.page(about)) })
	if err != nil {
		return err
	}
	about.Stages = r.stages(clock())
	if err := about.write(folder.Folder); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return folder.Commit()
}

// page is what the report tells of the run beside its outcome.
func (r *results) page(a *about) report.About {
	page := report.About{Engine: a.EngineVersion, Name: a.Run, Found: r.found, Truth: r.truth, Areas: r.areas,
		Made: words.English.Date(date.On(r.begun.Year(), int(r.begun.Month()), r.begun.Day()))}
	for _, in := range r.inputs {
		page.Inputs = append(page.Inputs, report.Input{File: in.Name, SHA256: in.SHA256, Rows: in.Rows, Bytes: in.Bytes})
	}
	return page
}

func writePlain(to tables.Folder, t result.Plain) error {
	return to.WriteTable(t.Name+".csv", t.Columns, func(w *tables.Writer) error {
		for _, row := range t.Rows {
			w.Row(row...)
		}
		return nil
	})
}

// estimateColumns stand between the identifying columns of a table and its further ones.
var estimateColumns = []string{"value", "se", "low", "high", "level", "n_trips", "n_stones", "filled_share"}

func writeTable(to tables.Folder, t result.Table, run string) error {
	columns := append(append(append([]string{}, t.ID...), estimateColumns...), t.Further...)
	return to.WriteTable(t.Name+".csv", append(columns, "run"), func(w *tables.Writer) error {
		for i := range t.Estimate {
			e := &t.Estimate[i]
			if err := sane(e); err != nil {
				return fmt.Errorf("row %d: %w", i+2, err)
			}
			for _, cell := range e.ID {
				w.Text(cell)
			}
			w.Number(e.Value)
			w.Number(e.SE)
			w.Number(e.Low)
			w.Number(e.High)
			w.Number(record.Number{X: e.Level, Known: e.Level > 0})
			w.Int(e.Trips)
			w.Int(e.Stones)
			w.Number(e.Filled)
			for i := range t.Further {
				w.Text(e.Further[i])
			}
			w.Text(run)
			w.EndRow()
		}
		return nil
	})
}

// sane refuses an estimate that claims to be known and is no number: that is a mistake of
// the engine, and better no table than one that spreads it.
func sane(e *result.Estimate) error {
	for _, n := range []record.Number{e.Value, e.SE, e.Low, e.High, e.Filled} {
		if n.Known && (math.IsNaN(n.X) || math.IsInf(n.X, 0)) {
			return fmt.Errorf("%v is not a number: this is a mistake in earstone, please report it with the programme's settings", e.ID)
		}
	}
	return nil
}

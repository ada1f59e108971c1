package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"earstone/estimate/run"
	"earstone/pages/report"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/store/tables"
)

// estimateTakes are the arguments of estimate.
type estimateTakes struct {
	Src  string   `arg:"" name:"SRC" help:"The programme: a folder made by earstone new, a folder of tables, or one .xlsx workbook."`
	Out  string   `help:"Folder for the results; an earlier result of this name is replaced." required:"" placeholder:"DIR"`
	Only []string `help:"Parts of the job, with what they rest on: ${enum}." enum:"${parts}" placeholder:"PART"`
	chosen
	granted
	JSON bool `help:"Print one JSON object a line, and no progress."`
}

// granted is what the consequences of a catch at age take for granted.
type granted struct {
	Natural  float64 `name:"natural-mortality" help:"M a year, for advice.csv; 0: by longevity from the oldest age read." default:"0" placeholder:"M"`
	Terminal float64 `name:"terminal-f" help:"Fishing mortality of the oldest age, for advice.csv; 0: as M." default:"0" placeholder:"F"`
	Mature   int     `name:"first-mature-age" help:"Youngest age that spawns, for advice.csv; 0: nothing is said of spawning." default:"0" placeholder:"AGE"`
	When     float64 `name:"spawning-time" help:"Part of the year's mortality before spawning, 0 to 1." default:"0" placeholder:"PART"`
}

// given is the same for a run; an error tells what can't be.
func (g *granted) given() (run.Given, error) {
	if !(g.Natural >= 0 && g.Natural <= 5) || !(g.Terminal >= 0 && g.Terminal <= 5) || g.Mature < 0 || !(g.When >= 0 && g.When <= 1) {
		return run.Given{}, fmt.Errorf("--natural-mortality and --terminal-f lie between 0 and 5 a year, --first-mature-age is 0 or more, --spawning-time lies between 0 and 1")
	}
	return run.Given{Natural: g.Natural, Terminal: g.Terminal, Mature: g.Mature, When: g.When}, nil
}

// chosen are the settings of a run that the command line decides.
type chosen struct {
	Replicates int    `help:"How many times the season is drawn again." default:"1000"`
	Seed       uint64 `help:"Seed of all random draws: the same seed gives the same tables." default:"1"`
	Workers    int    `help:"Processor cores to use; 0 is all. The tables are the same." default:"0"`
	Key        string `help:"Form of the key instead of the programme's: ${forms}." enum:",${forms}" default:"" placeholder:"FORM"`
}

func estimate() command {
	var in estimateTakes
	return command{
		name: "estimate",
		does: "Estimate the catch at age with its intervals and write tables and a report.",
		example: "earstone estimate quarrow-banks --out results\n" +
			"earstone estimate quarrow-banks --out trial --key true_direct --seed 7",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.estimate(ctx, to) },
	}
}

func (in *estimateTakes) estimate(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	options, err := in.options(in.Only)
	if err != nil {
		return wrongUse, err
	}
	if options.Given, err = in.given(); err != nil {
		return wrongUse, err
	}
	job := job{src: in.Src, out: in.Out, options: options}
	return job.do(ctx, to)
}

// mostReplicates are more than move the last digit that is printed.
const mostReplicates = 100000

// options are those of the run; an error tells what can't be asked for.
func (c *chosen) options(only []string) (run.Options, error) {
	if c.Replicates < 40 || c.Replicates > mostReplicates || c.Workers < 0 {
		return run.Options{}, fmt.Errorf("--replicates is 40 or more (fewer give no interval) and %s at most, --workers 0 or more", words.Count(mostReplicates))
	}
	o := run.Options{Replicates: c.Replicates, Seed: c.Seed, Workers: c.Workers, Key: c.Key}
	for _, part := range run.Parts() {
		for _, asked := range only {
			if asked == string(part) {
				o.Only = append(o.Only, part)
				break
			}
		}
	}
	return o, nil
}

// job is an estimate from a programme to a folder of results.
type job struct {
	src, out string
	options  run.Options
	truth    report.Truth // of an invented programme
	invented *inventedTruth
}

// place tells why the results can't stand where they should, before any work is done.
func (j job) place() error {
	whole, err := filepath.Abs(j.out)
	switch {
	case err != nil:
		return err
	case j.out == "":
		return errors.New("--out names no folder: give one, as --out results")
	case filepath.Dir(whole) == whole:
		return fmt.Errorf("--out %s is the whole disk: choose a folder on it, as --out results", j.out)
	case within(j.src, j.out):
		return fmt.Errorf("--out %s would replace the programme itself: choose another folder", j.out)
	}
	return tables.Writable(j.out)
}

// do estimates, writes and tells.
func (j job) do(ctx context.Context, to *output) (status, error) {
	if err := j.place(); err != nil {
		return wrongUse, err
	}
	to.begin("reading " + j.src)
	results, mend, err := j.make(ctx, to.clock, to.told())
	switch {
	case errors.Is(err, run.ErrTooLarge):
		return wrongUse, err
	case err != nil:
		return failed, err
	case mend != nil:
		return refuse(to, mend)
	case !results.any():
		return results.refuse(to)
	}
	to.begin("writing " + j.out)
	if err := results.write(ctx, j.out, to.clock); err != nil {
		return failed, err
	}
	return results.tell(to, j.out)
}

// make estimates. Where the programme holds errors it tells all that is wrong instead:
// mend is nil otherwise.
func (j job) make(ctx context.Context, clock func() time.Time, tell func(stage string, done, of int)) (_ *results, mend *finding.List, _ error) {
	begun := clock()
	p, err := openProgramme(j.src, date.On(begun.Year(), int(begun.Month()), begun.Day()))
	if err != nil {
		return nil, nil, err
	}
	defer p.close()
	if p.findings().Of(finding.Error) > 0 {
		mend, err := p.look(ctx)
		return nil, mend, err
	}
	read := clock()
	j.options.Clock, j.options.Progress = clock, tell
	outcome, err := run.Run(ctx, sound{p, ctx}, converter(p.book), j.options)
	switch {
	case errors.Is(err, errRefused):
		return nil, p.findings(), nil
	case err != nil:
		return nil, nil, err
	}
	all := p.findings()
	all.Join(p.tables.Missing("estimate", j.needs()...))
	all.Join(p.told(&outcome.Found))
	if all.Of(finding.Error) > 0 {
		return nil, all, nil
	}
	return &results{outcome: outcome, inputs: p.tables.Inputs(), found: all, begun: begun, reading: read.Sub(begun), truth: j.truth,
		invented: j.invented, areas: p.book.Areas}, nil, nil
}

// needs are the tables without which what was asked for can't be had.
func (j job) needs() []string {
	names := []string{"fish", "readings"}
	if len(j.options.Only) == 0 || slices.ContainsFunc([]run.Part{run.Catch, run.Mortality, run.Origin}, func(p run.Part) bool { return slices.Contains(j.options.Only, p) }) {
		names = append(names, "trips", "lengths", "catch")
	}
	if slices.Contains(j.options.Only, run.Origin) {
		names = append(names, "assays", "baseline")
	}
	return names
}

// refuse tells everything that is wrong in the programme; nothing was written.
func refuse(to *output, all *finding.List) (status, error) {
	ended, err := to.findings(all)
	if err == nil && !to.json {
		to.say("Nothing was estimated and nothing was written: mend the errors first.")
	}
	return ended, err
}

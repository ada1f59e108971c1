package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/paper"
	"earstone/pages/request"
	"earstone/pages/words"
	"earstone/plan/allocation"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/store/tables"
)

// planTakes are the arguments of plan.
type planTakes struct {
	Src    string             `arg:"" name:"SRC" help:"${src}"`
	Out    string             `help:"Folder for the plan; an earlier one of this name is replaced." required:"" placeholder:"DIR"`
	Budget float64            `help:"What may be spent, in the unit of the costs; 0: what the last season cost." default:"0" placeholder:"COST"`
	Costs  map[string]float64 `help:"Cost of an item, in minutes or money: trip (with its lengths), stone (to its first reading), second_reading." placeholder:"ITEM=COST" mapsep:","`
	Trips  float64            `name:"most-trips" help:"At most so many times the last season's trips in a stratum." default:"2"`
	chosen
	JSON bool `help:"Print one JSON object a line, and no progress."`
}

func plan() command {
	var in planTakes
	return command{
		name: "plan",
		does: "Tell what to ask for next: trips, stones and second readings, and the CVs they would reach.",
		example: "earstone plan quarrow-banks --out plan-2032\n" +
			"earstone plan quarrow-banks --out plan-2032 --budget 60000 --costs trip=300,stone=30,second_reading=4",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.plan(ctx, to) },
	}
}

func (in *planTakes) plan(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	options, err := in.options([]string{string(run.Catch)})
	if err != nil {
		return wrongUse, err
	}
	ask, err := in.asks()
	if err != nil {
		return wrongUse, err
	}
	if within(in.Src, in.Out) {
		return wrongUse, fmt.Errorf("--out %s would replace the programme itself: choose another folder", in.Out)
	}
	to.begin("reading " + in.Src)
	work := planning{src: in.Src, options: options, ask: ask, today: to.today()}
	work.options.Progress = to.told()
	planned, mend, err := work.do(ctx)
	switch {
	case mend != nil:
		return refusePlan(to, mend)
	case errors.Is(err, errNoPlan):
		return found, err
	case err != nil:
		return failed, err
	}
	defer planned.programme.close()
	planned.in = in
	to.begin("writing " + in.Out)
	if err := planned.write(ctx, in.Out); err != nil {
		return failed, err
	}
	return done, planned.tell(to)
}

// planning is the way from a programme to a plan.
type planning struct {
	src     string
	options run.Options
	ask     allocation.Options
	today   date.Day
}

// errNoPlan is that there is nothing to plan from.
var errNoPlan = errors.New("no plan")

// do reads the programme, estimates and plans; mend holds the errors that stand in the way.
func (w planning) do(ctx context.Context) (_ *planned, mend *finding.List, err error) {
	p, err := openProgramme(w.src, w.today)
	if err != nil {
		return nil, nil, err
	}
	kept := false
	defer func() {
		if !kept {
			p.close()
		}
	}()
	if p.findings().Of(finding.Error) > 0 {
		return nil, p.findings(), p.readLengths(ctx)
	}
	w.options.Influence = true
	outcome, err := run.Run(ctx, sound{p, ctx}, converter(p.book), w.options)
	if errors.Is(err, errRefused) {
		return nil, p.findings(), nil
	}
	if err != nil {
		return nil, nil, err
	}
	all := p.findings() // the run ends before it estimates where it comes upon an error
	all.Join(p.told(&outcome.Found))
	if all.Of(finding.Error) > 0 {
		return nil, all, nil
	}
	planned := &planned{programme: p, outcome: outcome, options: w.ask, made: w.today}
	if err := planned.all(); err != nil {
		return nil, nil, err
	}
	kept = true
	return planned, nil, nil
}

// asks are the options of the plan; an error tells what can't be asked for.
func (in *planTakes) asks() (allocation.Options, error) {
	o := allocation.Options{Budget: in.Budget, Trips: in.Trips, Costs: allocation.DefaultCosts()}
	for name, cost := range in.Costs {
		item := allocation.Item(name)
		if _, known := o.Costs[item]; !known {
			return o, fmt.Errorf("--costs knows trip, stone and second_reading, and not %s", name)
		}
		if !(cost > 0) || math.IsInf(cost, 1) {
			return o, fmt.Errorf("--costs: %s=%v is not above 0", name, cost)
		}
		o.Costs[item] = cost
	}
	if !(in.Budget >= 0) || math.IsInf(in.Budget, 1) || !(in.Trips >= 1) || in.Trips > 100 {
		return o, fmt.Errorf("--budget is 0 or more, --most-trips between 1 and 100")
	}
	return o, nil
}

func refusePlan(to *output, all *finding.List) (status, error) {
	ended, err := to.findings(all)
	if err == nil && !to.json {
		to.say("Nothing was planned and nothing was written: mend the errors first.")
	}
	return ended, err
}

// planned is the plan of a programme, species by species.
type planned struct {
	in        *planTakes
	programme *programme
	outcome   *run.Outcome
	options   allocation.Options
	made      date.Day
	seasons   []*allocation.Season
}

// all plans each species of which something can be said; with several, each has the whole
// budget of its own last season.
func (p *planned) all() error {
	var trouble error
	for _, s := range p.outcome.Species {
		season, err := allocation.For(s, p.outcome.Settings.Targets, p.options)
		if err != nil {
			trouble = fmt.Errorf("%w for %s: %w", errNoPlan, s.Species, err)
			continue
		}
		p.seasons = append(p.seasons, season)
	}
	if len(p.seasons) == 0 {
		return trouble
	}
	return nil
}

// write puts the tables, the page to print and run.json into the folder.
func (p *planned) write(ctx context.Context, out string) error {
	folder, err := tables.CreateFolder(out)
	if err != nil {
		return err
	}
	defer folder.Discard() // after Commit it does nothing
	all := p.tables()
	for _, t := range all {
		if err := writePlain(folder.Folder, t); err != nil {
			return err
		}
	}
	page, err := p.page(all)
	if err != nil {
		return err
	}
	if err := folder.WriteFile(requestPage, page); err != nil {
		return err
	}
	text, err := json.MarshalIndent(p.about(), "", "  ")
	if err != nil {
		return fmt.Errorf("writing run.json: %w", err)
	}
	if err := folder.WriteFile("run.json", append(text, '\n')); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return folder.Commit()
}

// requestPage is the plan as a page to print.
const requestPage = "request.html"

func (p *planned) page(all []result.Plain) ([]byte, error) {
	plan, err := request.From(all)
	if err != nil {
		return nil, err
	}
	areas := p.programme.book.Areas
	return plan.HTML(request.About{Programme: p.outcome.Settings.Name, Made: words.English.Date(p.made), Bin: p.outcome.Settings.LengthBin,
		AreaName: func(code string) string { return paper.PublicArea(areas, code) }})
}

// tables are those of all species, one below the other.
func (p *planned) tables() []result.Plain {
	var all []result.Plain
	convert := converter(p.programme.book)
	for i, s := range p.seasons {
		for j, t := range s.Tables(convert, p.outcome.Settings.LengthBin) {
			if i == 0 {
				all = append(all, t)
			} else {
				all[j].Rows = append(all[j].Rows, t.Rows...)
			}
		}
	}
	return all
}

// aboutPlan is run.json beside a plan.
type aboutPlan struct {
	EngineVersion string                      `json:"engine_version"`
	Inputs        []inputObject               `json:"inputs"`
	Costs         map[allocation.Item]float64 `json:"costs"`
	Budget        float64                     `json:"budget"` // 0: what the last season cost
	MostTrips     float64                     `json:"most_trips"`
	Seed          uint64                      `json:"seed"`
	Replicates    int                         `json:"replicates"`
	Key           string                      `json:"key"`
}

func (p *planned) about() aboutPlan {
	o := p.outcome.Options
	a := aboutPlan{EngineVersion: version, Costs: p.options.Costs, Budget: p.options.Budget, MostTrips: p.options.Trips,
		Seed: o.Seed, Replicates: o.Replicates, Key: o.Key, Inputs: []inputObject{}}
	for _, in := range p.programme.tables.Inputs() {
		a.Inputs = append(a.Inputs, inputObject{in.Name, in.SHA256, in.Rows, in.Bytes})
	}
	return a
}

// planObject is a target as JSON.
type planObject struct {
	Species   record.Species `json:"species"`
	Age       int            `json:"age"`
	Want      float64        `json:"want_cv"`
	Resampled float64        `json:"resampled_cv"`
	Today     float64        `json:"today_cv"`
	Planned   float64        `json:"planned_cv"`
}

// tell prints the plan.
func (p *planned) tell(to *output) error {
	for _, s := range p.seasons {
		if to.json {
			for j, age := range s.Ages {
				err := to.object(planObject{s.Species.Species, age, s.Targets[j].Want, s.Species.Influence.CV(age).X, s.Today.CV[j], s.Next.CV[j]})
				if err != nil {
					return err
				}
			}
			continue
		}
		to.clear()
		fmt.Fprint(to.out, planText(s))
	}
	if !to.json {
		to.say("\nrequest.html is it as a page to print. quotas.csv has it by month, area and length, rereading.csv the stones worth another look, worth.csv what one more of each would bring. All lies in %s.", p.in.Out)
	}
	return nil
}

// planText is the plan of a species for the terminal.
func planText(s *allocation.Season) string {
	var out strings.Builder
	fmt.Fprintf(&out, "\n%s, the season after %d\n\n", s.Species.Species, s.Species.Influence.Year)
	counts := grid{head: []string{"ask for", "last season", "planned", "cost of one"}}
	for _, item := range []allocation.Item{allocation.Trip, allocation.Stone, allocation.Reading} {
		today, next := 0, 0
		for i, place := range s.Places {
			if place.Item == item {
				today += s.Cells[i].Today
				next += s.Plan.N[i]
			}
		}
		name := map[allocation.Item]string{allocation.Trip: "trips", allocation.Stone: "stones", allocation.Reading: "second readings"}[item]
		counts.add(name, words.Count(today), words.Count(next), words.Figure(s.Costs[item], 0))
	}
	counts.add("cost", words.Figure(s.Today.Cost, 0), words.Figure(s.Next.Cost, 0), "")
	out.WriteString(counts.text() + "\n")
	cvs := grid{head: []string{"catch at age", "CV wanted %", "resampled %", "as now %", "planned %"}}
	for j, age := range s.Ages {
		cvs.add(words.Count(age), words.Figure(100*s.Targets[j].Want, 0), words.Figure(100*s.Species.Influence.CV(age).X, 0),
			words.Figure(100*s.Today.CV[j], 0), words.Figure(100*s.Next.CV[j], 0))
	}
	return out.String() + cvs.text()
}

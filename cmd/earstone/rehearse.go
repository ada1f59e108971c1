package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/plan/fishery"
	"earstone/plan/rehearsal"
)

// rehearseTakes are the arguments of rehearse.
type rehearseTakes struct {
	Size       string   `help:"Size of the invented fishery: small, season or decade." enum:"small,season,decade" default:"small"`
	Seasons    int      `help:"How many seasons to invent." default:"20"`
	Replicates int      `help:"Replicates a season." default:"400"`
	Forms      []string `help:"Forms of key to compare: ${enum}." enum:"${forms}" default:"agreed_direct,agreed_smoothed,true_direct,true_smoothed" placeholder:"FORM"`
	Beside     []string `help:"What to score beside the catch at age: ${enum}." enum:"growth,origin" placeholder:"PART"`
	Plans      int      `help:"Instead, plan in so many fisheries, and sample each plan --seasons times beside the same money spent without one." default:"0" placeholder:"N"`
	Seed       uint64   `help:"Seed of the first season; the next ones count up." default:"1"`
	Workers    int      `help:"Processor cores to use; 0 is all. The results are the same." default:"0"`
	Keep       string   `help:"Keep what each season gave in this folder, and go on from there after a stop." placeholder:"DIR"`
	Out        string   `help:"Write the page here instead of printing it." placeholder:"FILE"`
	JSON       bool     `help:"Print one JSON object a line, and no progress."`
}

// fewestTrips is from how many trips on a stratum counts in the coverage by stratum.
const fewestTrips = 3

func rehearse() command {
	var in rehearseTakes
	return command{
		name: "rehearse",
		does: "Run everything on invented seasons of known truth and count how often it was right.",
		example: "earstone rehearse --size small --seasons 50\n" +
			"earstone rehearse --size small --beside growth,origin\n" +
			"earstone rehearse --size small --seasons 500 --replicates 200 --keep seasons\n" +
			"earstone rehearse --size small --plans 10 --seasons 20\n" +
			"earstone rehearse --size season --forms agreed_direct,true_direct --out rehearsal.md",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.rehearse(ctx, to) },
	}
}

func (in *rehearseTakes) rehearse(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	if in.Seasons < 1 || in.Replicates < 40 || in.Workers < 0 || in.Plans < 0 {
		return wrongUse, fmt.Errorf("--seasons is 1 or more, --replicates 40 or more (fewer give no interval), --workers and --plans 0 or more")
	}
	settings, err := fishery.Sized(in.Size)
	if err != nil {
		return wrongUse, err
	}
	book, err := fishery.Invent(settings, in.Seed).Book()
	if err != nil {
		return failed, err
	}
	if in.Plans > 0 {
		return in.plans(ctx, to, settings, converter(book))
	}
	design := rehearsal.Design{Fishery: settings, Seasons: in.Seasons, Replicates: in.Replicates,
		Seed: in.Seed, Workers: in.Workers, Forms: in.Forms, FewTrips: fewestTrips}
	for _, part := range in.Beside {
		design.Beside = append(design.Beside, run.Part(part))
	}
	if in.Keep != "" {
		shelf, err := in.shelf()
		if err != nil {
			return failed, err
		}
		design.Keeper = shelf
	}
	var tell func(done, of int)
	if told := to.told(); told != nil {
		tell = func(done, of int) { told("seasons", done, of) }
	}
	report, err := rehearsal.Rehearse(ctx, design, converter(book), tell)
	if err != nil {
		return failed, err
	}
	if in.JSON {
		return done, in.objects(to, report)
	}
	return done, in.show(to, in.page(report), fmt.Sprintf("The rehearsal of %d seasons", in.Seasons))
}

// show prints a page, or writes it and says so.
func (in *rehearseTakes) show(to *output, page, what string) error {
	if in.Out != "" {
		if err := replace(in.Out, []byte(page)); err != nil {
			return err
		}
		to.say("%s lies in %s.", what, in.Out)
		return nil
	}
	to.clear()
	fmt.Fprint(to.out, page)
	return nil
}

// page is the report as Markdown.
func (in *rehearseTakes) page(report *rehearsal.Report) string {
	var out strings.Builder
	s := report.Design.Fishery
	fmt.Fprintf(&out, "# Rehearsal: %s\n\n", in.Size)
	fmt.Fprintf(&out, "%d invented fisheries of known truth, seeds %d to %d, each sampled once: %s trips, %s measured lengths, %s aged fish, %s readings by %d readers. %s replicates a season, intervals of 95 %%.\n\n",
		in.Seasons, in.Seed, in.Seed+uint64(in.Seasons)-1, words.Count(s.Trips), words.Count(s.Lengths), words.Count(s.Aged),
		words.Count(s.Readings), len(s.Readers), words.Count(in.Replicates))
	fmt.Fprint(&out, "Bias, root mean square error and width are shares of the truth, in percent; coverage is the share of intervals that hold the truth. What follows ± is one Monte Carlo standard error, taken over seasons.\n")
	for _, form := range report.Forms {
		fmt.Fprintf(&out, "\n## Key: %s\n\n", form.Key)
		if form.Failed > 0 {
			fmt.Fprintf(&out, "%d of %d seasons gave no answer and are not counted.\n\n", form.Failed, in.Seasons)
		}
		g := grid{head: []string{"catch at", "estimates", "bias %", "RMSE %", "coverage %", "truth below %", "truth above %", "width %"}}
		spread := in.Seasons-form.Failed > 1 // one season tells no Monte Carlo error
		addScore(&g, "all ages together", form.All, spread)
		for age, score := range form.Ages {
			if score.Estimates > 0 {
				addScore(&g, ageName(age, s.PlusGroup), score, spread)
			}
		}
		addScore(&g, fmt.Sprintf("ages in single strata of %d or more trips", fewestTrips), form.Strata, spread)
		for _, beside := range form.Beside {
			addScore(&g, beside.Name, beside.Score, spread)
		}
		out.WriteString(g.markdown())
	}
	return out.String()
}

func ageName(age, plus int) string {
	if plus > 0 && age == plus {
		return fmt.Sprintf("age %d+", age)
	}
	return fmt.Sprintf("age %d", age)
}

func addScore(g *grid, name string, s rehearsal.Score, spread bool) {
	if s.Estimates == 0 {
		g.add(name, "0", "", "", "", "", "", "")
		return
	}
	bias, cover := words.Figure(100*s.Bias, 1), words.Figure(100*s.Coverage, 1)
	if spread {
		bias, cover = bias+" ± "+words.Figure(100*s.BiasSE, 1), cover+" ± "+words.Figure(100*s.CoverSE, 1)
	}
	g.add(name, strconv.Itoa(s.Estimates), bias, words.Figure(100*s.RMSE, 1), cover,
		words.Figure(100*s.Below, 1), words.Figure(100*s.Above, 1), words.Figure(100*s.Width, 0))
}

// scoreObject is one score as JSON; the standard errors are over seasons.
type scoreObject struct {
	Key        string   `json:"key"`
	Of         string   `json:"of"` // all, age, strata, or the name of what stands beside the catch at age
	Age        *int     `json:"age,omitempty"`
	Seasons    int      `json:"seasons"`
	Estimates  int      `json:"estimates"`
	Bias       float64  `json:"bias"`
	BiasSE     *float64 `json:"bias_se,omitempty"`
	RMSE       float64  `json:"rmse"`
	Coverage   float64  `json:"coverage"`
	CoverageSE *float64 `json:"coverage_se,omitempty"`
	Below      float64  `json:"truth_below"`
	Above      float64  `json:"truth_above"`
	Width      float64  `json:"width"`
}

// objects prints every score as one object.
func (in *rehearseTakes) objects(to *output, report *rehearsal.Report) error {
	for _, form := range report.Forms {
		seasons := in.Seasons - form.Failed
		object := func(of string, age *int, s rehearsal.Score) error {
			if s.Estimates == 0 {
				return nil
			}
			line := scoreObject{Key: form.Key, Of: of, Age: age, Seasons: seasons, Estimates: s.Estimates, Bias: s.Bias,
				RMSE: s.RMSE, Coverage: s.Coverage, Below: s.Below, Above: s.Above, Width: s.Width}
			if seasons > 1 {
				line.BiasSE, line.CoverageSE = &s.BiasSE, &s.CoverSE
			}
			return to.object(line)
		}
		if err := object("all", nil, form.All); err != nil {
			return err
		}
		for age, score := range form.Ages {
			if err := object("age", &age, score); err != nil {
				return err
			}
		}
		if err := object("strata", nil, form.Strata); err != nil {
			return err
		}
		for _, beside := range form.Beside {
			if err := object(beside.Name, nil, beside.Score); err != nil {
				return err
			}
		}
	}
	return nil
}

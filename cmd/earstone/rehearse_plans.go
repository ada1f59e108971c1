package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/plan/allocation"
	"earstone/plan/fishery"
	"earstone/plan/rehearsal"
)

// plans rehearses plans: what they promise, and what the same money does without one.
func (in *rehearseTakes) plans(ctx context.Context, to *output, settings fishery.Settings, convert run.Converter) (status, error) {
	if in.Seasons < 2 {
		return wrongUse, fmt.Errorf("--plans wants --seasons 2 or more: a spread is what is looked for")
	}
	trial := rehearsal.PlanTrial{Fishery: settings, Fisheries: in.Plans, Seasons: in.Seasons, Replicates: in.Replicates,
		Seed: in.Seed, Workers: in.Workers, Options: allocation.Options{}}
	var tell func(done, of int)
	if told := to.told(); told != nil {
		tell = func(done, of int) { told("seasons", done, of) }
	}
	report, err := rehearsal.RehearsePlans(ctx, trial, convert, tell)
	if err != nil {
		return failed, err
	}
	if in.JSON {
		return done, planObjects(to, report)
	}
	return done, in.show(to, in.plansPage(report), fmt.Sprintf("The rehearsal of plans in %d fisheries", in.Plans))
}

// plansPage is the report as Markdown.
func (in *rehearseTakes) plansPage(r *rehearsal.PlanReport) string {
	var out strings.Builder
	fmt.Fprintf(&out, "# Rehearsal of plans: %s\n\n", in.Size)
	fmt.Fprintf(&out, "In each of %d invented fisheries of known truth, seeds %d to %d, a first season is sampled and run with %s replicates; the next one is planned from it at the same cost, and each design is sampled %s times. A stone comes with as many readings as in the first season.\n\n",
		in.Plans, in.Seed, in.Seed+uint64(in.Plans)-1, words.Count(in.Replicates), words.Count(in.Seasons))
	fmt.Fprintf(&out, "CVs are root mean squares over fisheries and the target ages %d to %d, in percent of the truth: *predicted* from the first season alone, *reached* by the estimates over seasons, ± one standard error over fisheries. RMSE has the bias in it.\n\n", r.Ages[0], r.Ages[len(r.Ages)-1])
	g := grid{head: []string{"design", "cost", "trips", "stones", "predicted %", "reached %", "RMSE %"}}
	ages := grid{head: []string{"age"}}
	for _, d := range r.Designs {
		reached := words.Figure(100*d.Reached, 1)
		if in.Plans > 1 {
			reached += " ± " + words.Figure(100*d.ReachedSE, 1)
		}
		g.add(string(d.Name), words.Figure(d.Cost, 0), words.Figure(d.Trips, 0), words.Figure(d.Stones, 0),
			words.Figure(100*d.Predicted, 1), reached, words.Figure(100*d.RMSE, 1))
		ages.head = append(ages.head, string(d.Name)+": predicted %", "reached %")
	}
	out.WriteString(g.markdown() + "\n")
	for j, age := range r.Ages {
		row := []string{strconv.Itoa(age)}
		for _, d := range r.Designs {
			row = append(row, words.Figure(100*d.AgePredicted[j], 1), words.Figure(100*d.AgeReached[j], 1))
		}
		ages.add(row...)
	}
	return out.String() + ages.markdown()
}

// planScore is a design as JSON.
type planScore struct {
	Design    string  `json:"design"`
	Cost      float64 `json:"cost"`
	Trips     float64 `json:"trips"`
	Stones    float64 `json:"stones"`
	Predicted float64 `json:"predicted_cv"`
	Reached   float64 `json:"reached_cv"`
	ReachedSE float64 `json:"reached_cv_se"`
	RMSE      float64 `json:"rmse"`
}

func planObjects(to *output, r *rehearsal.PlanReport) error {
	for _, d := range r.Designs {
		err := to.object(planScore{string(d.Name), d.Cost, d.Trips, d.Stones, d.Predicted, d.Reached, d.ReachedSE, d.RMSE})
		if err != nil {
			return err
		}
	}
	return nil
}

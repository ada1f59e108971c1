package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"earstone/estimate/run"
	estimatepage "earstone/pages/web/estimate"
	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/store/jobs"
)

// runsFolder holds, in the folder of a programme, the runs that its pages asked for.
const runsFolder = "runs"

// estimates is the work behind the page Estimate: what the command estimate does, from the
// programme that is served into a folder of its own.
func estimates(src string, clock func() time.Time) jobs.Work {
	return func(ctx context.Context, j jobs.Job, folder string, progress jobs.Progress) ([]string, error) {
		var asked estimatepage.Asked
		if err := json.Unmarshal(j.Asked, &asked); err != nil {
			return nil, fmt.Errorf("reading what was asked for: %w", err)
		}
		progress("reading the programme", 0, 0)
		job := job{src: src, out: folder, options: run.Options{Only: asked.Parts, Replicates: asked.Replicates, Seed: asked.Seed, Key: asked.Key}}
		results, mend, err := job.make(ctx, clock, progress)
		switch {
		case errors.Is(err, run.ErrTooLarge):
			return nil, jobs.Refused{err.Error()}
		case err != nil:
			return nil, err
		case mend != nil:
			return nil, refused(mend)
		case !results.any():
			return nil, results.why()
		}
		progress("writing the results", 0, 0)
		results.beneath = true
		if err := results.write(ctx, folder, clock); err != nil {
			return nil, err
		}
		return results.says(), nil
	}
}

// mostTold is how many problems a page tells; earstone check tells all.
const mostTold = 30

// refused says what is wrong in the records, the gravest first.
func refused(all *finding.List) jobs.Refused {
	says := jobs.Refused{"The records hold errors, so nothing was estimated: " + counted(all) + " Mend the errors first; earstone check tells all of them."}
	told := lines(all)
	return append(says, told[:min(len(told), mostTold)]...)
}

// why says that nothing could be estimated.
func (r *results) why() jobs.Refused {
	says := jobs.Refused{"Nothing could be estimated, and nothing was written."}
	for _, s := range r.outcome.Species {
		says = append(says, missing(r.outcome, s)...)
	}
	return says
}

// says is what the results rest on, and what could not be had.
func (r *results) says() (all []string) {
	for _, s := range r.outcome.Species {
		all = append(all, restsOn(r.outcome, s)...)
		all = append(all, missing(r.outcome, s)...)
	}
	if n := r.warnings(); n > 0 {
		all = append(all, plural(n, "warning stands", "warnings stand")+" in the report.")
	}
	for i := range all {
		all[i] = words.Plain(all[i])
	}
	return all
}

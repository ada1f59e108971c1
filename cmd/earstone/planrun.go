package main

import (
	"context"
	"errors"
	"time"

	"earstone/estimate/run"
	"earstone/plan/allocation"
	"earstone/programme/date"
	"earstone/store/jobs"
)

// planReplicates is how many replicates a plan asked for on its page is made from.
const planReplicates = 1000

// plans is the work behind the page Plan: what the command plan does with its defaults,
// from the programme that is served into a folder of its own.
func plans(src string, clock func() time.Time) jobs.Work {
	return func(ctx context.Context, _ jobs.Job, folder string, progress jobs.Progress) ([]string, error) {
		progress("reading the programme", 0, 0)
		now := clock()
		work := planning{src: src, today: date.On(now.Year(), int(now.Month()), now.Day()), ask: allocation.Options{Costs: allocation.DefaultCosts(), Trips: 2},
			options: run.Options{Only: []run.Part{run.Catch}, Replicates: planReplicates, Seed: 1, Progress: progress}}
		planned, mend, err := work.do(ctx)
		switch {
		case mend != nil:
			return nil, refused(mend)
		case errors.Is(err, errNoPlan), errors.Is(err, run.ErrTooLarge):
			return nil, jobs.Refused{err.Error()}
		case err != nil:
			return nil, err
		}
		defer planned.programme.close()
		progress("writing the plan", 0, 0)
		return nil, planned.write(ctx, folder)
	}
}

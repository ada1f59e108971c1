// Package resample draws a season again and again to see how far its estimates move.
//
// The trip is the unit: a drawn trip brings its length counts into the lengths and its
// stones into the key, all with the trip's multiplicity. Every random source has its own
// stream keyed by (seed, source, replicate), so replicate b is the same to the last bit
// whichever worker makes it and in whatever order. Counts are drawn, not rows, and a
// worker allocates nothing in a replicate.
//
// This is the one package of the engine that starts goroutines.
//
// Methods, section 10. Sources: Rao & Wu (1988), J. Am. Stat. Assoc. 83:231-241, the
// rescaled bootstrap (from memory).
package resample

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/reading/ageerror"
	"earstone/statistics/stream"
)

// Problem is a season to be drawn again.
type Problem struct {
	Counts  *tally.Counts
	Worker  func() key.Worker // a fresh worker of the chosen key form
	Beside  []Beside          // estimated from the same draws
	Readers *ageerror.Fit     // for a key of true ages; nil: agreed ages, whose error is in them already

	Replicates int
	Seed       uint64
	Workers    int // 0: all cores
	Fish       bool
	Held       []stream.Source // sources that are not drawn: their part of the spread is left out

	within bool // some row draws inside trips
}

// Drawn are the replicates: row b is one evaluation of the design (catch.Design.Size
// long).
type Drawn struct {
	Replicates, Size int
	rows             []float64
	Told             Told
}

// Told is what the key's fits said, summed over replicates.
type Told struct {
	Unsettled       int // replicates in which an iteration did not come to its end
	Borrowed, Empty int // cells, summed: divide by the replicates
}

// Row is replicate b.
func (d *Drawn) Row(b int) []float64 { return d.rows[b*d.Size : (b+1)*d.Size] }

// Column fills dst, one a replicate, with quantity j of the evaluation.
func (d *Drawn) Column(dst []float64, j int) {
	for b := range dst {
		dst[b] = d.rows[b*d.Size+j]
	}
}

// Run draws the replicates. progress, if any, is told now and then how many are done; it
// is called from one goroutine at a time. A cancelled context ends the run with its error,
// and a panic in a replicate with a *Broken.
func Run(ctx context.Context, p Problem, progress func(done, of int)) (*Drawn, error) {
	size := p.Size()
	drawn := &Drawn{Replicates: p.Replicates, Size: size, rows: make([]float64, p.Replicates*size)}
	told, held := make([]key.Told, p.Replicates), p.held()
	err := each(ctx, p.Workers, p.Replicates, progress, func() func(int) {
		w := newWork(&p, held)
		return func(b int) { told[b] = w.replicate(drawn.Row(b), b) }
	})
	if err != nil {
		return nil, err
	}
	for _, t := range told {
		if !t.Converged {
			drawn.Told.Unsettled++
		}
		drawn.Told.Borrowed += t.Borrowed
		drawn.Told.Empty += t.Empty
	}
	return drawn, nil
}

// Point fills row with the estimate itself, q with its key and from with what each row
// of the key rests on.
func Point(p Problem, row, q []float64, from []key.Source) key.Told {
	w := newWork(&p, p.held())
	return w.point(row, q, from)
}

// Left are evaluations with trips left out.
type Left struct {
	Drawn
	Row []int // by trip: the row without it
}

// Jackknife leaves out each trip in turn, the other trips of its group scaled by m/(m−1).
// A row leaves out one trip of each year at once: a trip moves the figures of its own
// year, and those of others only as far as keys are borrowed across years, so that ten
// years cost no more rows than one. Row[t] is meant for the figures of the year of trip t.
// A trip that is alone in its group stays in.
//
// It tells how much each trip moves a figure: the skewness that the BCa interval wants,
// and how few trips its spread rests on.
func Jackknife(ctx context.Context, p Problem, progress func(done, of int)) (*Left, error) {
	sets, row := leaveOut(p.Counts)
	size := p.Size()
	left := &Left{Drawn: Drawn{Replicates: len(sets), Size: size, rows: make([]float64, len(sets)*size)}, Row: row}
	held := p.held()
	err := each(ctx, p.Workers, len(sets), progress, func() func(int) {
		w := newWork(&p, held)
		return func(i int) { w.without(left.Drawn.Row(i), sets[i]) }
	})
	return left, err
}

// leaveOut puts the i-th trips of all years into set i.
func leaveOut(c *tally.Counts) (sets [][]int32, row []int) {
	next := map[int16]int{}
	row = make([]int, len(c.Trips))
	for t, trip := range c.Trips {
		year := trip.Cell.Keep(c.Columns).Year // years that strata do not part are one
		i := next[year]
		next[year]++
		if i == len(sets) {
			sets = append(sets, nil)
		}
		sets[i] = append(sets[i], int32(t))
		row[t] = i
	}
	return sets, row
}

// Each calls f(i) for i in 0 .. n−1 on all workers, in no particular order, and returns
// when all are done. For work whose parts write to places of their own. A panic in one of
// them becomes one of the caller, a *Broken.
func Each(workers, n int, f func(i int)) {
	if err := each(context.Background(), workers, n, nil, func() func(int) { return f }); err != nil {
		panic(err) // nothing else can be in the way
	}
}

// Share is Each with progress and a way to stop; a panic is returned as a *Broken.
func Share(ctx context.Context, workers, n int, progress func(done, of int), f func(i int)) error {
	return each(ctx, workers, n, progress, func() func(int) { return f })
}

func each(ctx context.Context, workers, n int, progress func(done, of int), start func() func(int)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, n)
	var next, done atomic.Int64
	var telling sync.Mutex
	var all sync.WaitGroup
	var broken atomic.Pointer[Broken] // the first
	told := 0
	tell := func() { // never less than before, and each number once
		if now := int(done.Load()); now > told {
			told = now
			progress(now, n)
		}
	}
	for range workers {
		all.Go(func() {
			broken.CompareAndSwap(nil, sound(func() {
				work := start()
				for ctx.Err() == nil && broken.Load() == nil {
					i := int(next.Add(1)) - 1
					if i >= n {
						return
					}
					work(i)
					done.Add(1)
					if progress != nil && telling.TryLock() {
						tell()
						telling.Unlock()
					}
				}
			}))
		})
	}
	all.Wait()
	if b := broken.Load(); b != nil {
		return b
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if progress != nil {
		tell() // of the last chunks, which may have come while another was told of
	}
	return nil
}

func (p *Problem) held() map[stream.Source]bool {
	held := map[stream.Source]bool{}
	for _, source := range p.Held {
		held[source] = true
	}
	return held
}

// Multiplicities used by every evaluation stand in a catch.Draw.
type draw = catch.Draw

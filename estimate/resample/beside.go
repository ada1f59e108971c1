package resample

import (
	"earstone/estimate/catch"
	"earstone/estimate/tally"
	"earstone/statistics/stream"
)

// Beside is estimated from the same draws as the catch at age: growth, composition by
// nursery. Its values stand in each row behind those of the catch.
type Beside interface {
	Size() int // values a row
	Worker() BesideWorker
}

// BesideWorker belongs to one goroutine and allocates nothing.
type BesideWorker interface {
	Evaluate(dst []float64, drawn *Drawing)
}

// Drawing is what one evaluation drew, for those beside the catch.
type Drawing struct {
	Trips   []float64   // r_t: how often each trip was drawn, scaled
	Fish    []float64   // of the catch by key stratum and bin: what the sample stands for
	Key     []float64   // q: key strata × bins × ages
	Readers [][]float64 // error matrix of each reader, true ages × counts; nil for a key of agreed ages
	Within  bool        // stones are drawn inside their trips: see Row.Within
	Inside  bool        // and those of no trip are not: see Row.Inside
	work    *work
}

// Still is the drawing of the season as it is, for fits that come before any replicate.
func Still(c *tally.Counts) *Drawing {
	d := &c.Design
	still := &Drawing{Trips: make([]float64, len(d.Trips)), Fish: make([]float64, d.KeyStrata*d.Bins)}
	for t := range still.Trips {
		still.Trips[t] = 1
	}
	Fish(still.Fish, make([]float64, d.Bins), d, catch.Draw{})
	return still
}

// Stream is a stream of a source in this replicate, apart from the one that the catch
// drew from and from those of other parts; nil where nothing is to be drawn: in the
// season as it is, and when the source is held. It is good until the next call.
func (d *Drawing) Stream(source stream.Source, part int) *stream.Stream {
	if d.work == nil {
		return nil
	}
	b := d.work.drawn.from[source] - 1
	if b < 0 || d.work.held[source] {
		return nil
	}
	d.work.stream.ResetAt(d.work.problem.Seed, source, b, part)
	return &d.work.stream
}

// Size is the length of a row: the catch, and what stands beside it.
func (p *Problem) Size() int {
	size := p.Counts.Design.Size()
	for _, b := range p.Beside {
		size += b.Size()
	}
	return size
}

// At is where the values of Beside i begin in a row.
func (p *Problem) At(i int) int {
	at := p.Counts.Design.Size()
	for _, b := range p.Beside[:i] {
		at += b.Size()
	}
	return at
}

package resample

import "earstone/statistics/stream"

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
	Trips []float64 // r_t: how often each trip was drawn, scaled
	Fish  []float64 // of the catch by key stratum and bin: what the sample stands for
	work  *work
	b     int // replicate; −1: the season as it is
}

// Stream is the stream of a source in this replicate, turned to its beginning; nil where
// nothing is to be drawn: in the season as it is, and when the source is held. It is good
// until the next call.
func (d *Drawing) Stream(source stream.Source) *stream.Stream {
	if d.b < 0 || !d.work.draws(source, d.b) {
		return nil
	}
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

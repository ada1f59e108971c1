package resample

import (
	"context"

	"earstone/statistics/stream"
)

// Row says from what one evaluation is drawn: of each source a replicate, or nothing. Two
// rows that name the same replicate of a source have the same draw of it, so that one
// source can be drawn again while the others stay (pick-freeze). The zero Row draws nothing.
type Row struct {
	from   [stream.Invention]int // by source: the replicate and 1 more; 0: as the season is
	within bool
	inside bool // and stones of no trip as the season is
}

// All is the row of replicate b of every source.
func All(b int) Row {
	var r Row
	for source := range r.from {
		r.from[source] = b + 1
	}
	return r
}

// Alone is the row of replicate b of one source, all others as the season is.
func Alone(source stream.Source, b int) Row { return Row{}.With(source, b) }

// With is the row with another replicate of one source.
func (r Row) With(source stream.Source, b int) Row {
	r.from[source] = b + 1
	return r
}

// Within is the row in which stones and lengths are drawn again inside their trips as well:
// the source stones takes n−1 of the n stones of a trip and length bin, scaled by n/(n−1),
// and a stone that is alone there an exponential weight; the source fish takes the measured
// lengths of each trip. That part of the spread is in the draw of trips already. A row
// draws it apart to tell how large it is, with the trips as they are.
func (r Row) Within() Row {
	r.within = true
	return r
}

// Inside is Within for stones of trips alone: those of no trip, which the source stones
// draws too, stay as the season is. It tells what the draw of trips has of its stones.
func (r Row) Inside() Row {
	r.within, r.inside = true, true
	return r
}

// Evaluate evaluates the problem once a row, whatever its Replicates are. Row i of the
// answer is that of rows[i], the same for any number of workers; trouble and progress are
// those of Run.
func Evaluate(ctx context.Context, p Problem, rows []Row, progress func(done, of int)) (*Drawn, error) {
	for _, r := range rows {
		p.within = p.within || r.within
	}
	size := p.Size()
	drawn := &Drawn{Replicates: len(rows), Size: size, rows: make([]float64, len(rows)*size)}
	held := p.held()
	err := each(ctx, p.Workers, len(rows), progress, func() func(int) {
		w := newWork(&p, held)
		return func(i int) { w.row(drawn.Row(i), rows[i]) }
	})
	if err != nil {
		return nil, err
	}
	return drawn, nil
}

// cell is the stones of one trip and length bin: entries of the key.
type cell struct {
	entries []int32
	share   []float64 // of the cell's fish, by entry
	fish    int       // rounded
}

// tripCells gathers the entries of each trip and bin. Entries are in the order of trips.
func (w *work) tripCells() []cell {
	var cells []cell
	entries, at := w.problem.Counts.Key.Entries, map[[2]int32]int{}
	for i, e := range entries {
		if e.Trip < 0 || e.Bin < 0 {
			continue
		}
		c, known := at[[2]int32{e.Trip, e.Bin}]
		if !known {
			c = len(cells)
			at[[2]int32{e.Trip, e.Bin}] = c
			cells = append(cells, cell{})
		}
		cells[c].entries = append(cells[c].entries, int32(i))
		cells[c].share = append(cells[c].share, e.Fish)
	}
	for c := range cells {
		total := 0.0
		for _, fish := range cells[c].share {
			total += fish
		}
		for i := range cells[c].share {
			cells[c].share[i] /= total
		}
		cells[c].fish = int(total + 0.5)
	}
	return cells
}

// drawWithin draws the stones of each trip and bin again among each other.
func (w *work) drawWithin() {
	for _, c := range w.cells {
		if c.fish < 2 {
			by := w.stream.Exponential()
			for _, i := range c.entries {
				w.weight[i] *= by
			}
			continue
		}
		times := w.times[:len(c.entries)]
		w.stream.Multinomial(times, c.share, c.fish-1)
		scale := float64(c.fish) / float64(c.fish-1)
		for j, i := range c.entries {
			w.weight[i] *= scale * float64(times[j]) / (c.share[j] * float64(c.fish))
		}
	}
}

// Pluck tells what single stones do: for each entry of the key, what a figure is without
// one of its fish (an entry may hold several alike). measure fills dst, k
// figures, from an evaluation; it is called from several goroutines at a time. The answer is
// entries × k. Trouble and progress are those of Run.
func Pluck(ctx context.Context, p Problem, k int, measure func(dst, row []float64), progress func(done, of int)) ([]float64, error) {
	n := len(p.Counts.Key.Entries)
	out, held := make([]float64, n*k), p.held()
	err := each(ctx, p.Workers, n, progress, func() func(int) {
		w, row := newWork(&p, held), make([]float64, p.Size())
		return func(i int) {
			w.pluck(row, i)
			measure(out[i*k:(i+1)*k], row)
		}
	})
	return out, err
}

// pluck evaluates the season without one fish of an entry.
func (w *work) pluck(row []float64, entry int) {
	w.settle()
	w.keepLengths()
	w.weigh()
	w.weight[entry] = max(w.weight[entry]-1, 0)
	w.fitReaders()
	w.evaluate(row)
}

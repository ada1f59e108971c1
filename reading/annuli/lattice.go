package annuli

import (
	"math"
	"slices"
)

// The lattice has a node for the core and for each place, times the count so far;
// an edge goes from a place to a later one and closes a year there, or several, of which
// all but the last show nothing.
type edge struct {
	count, unseen int // annuli at its start; annuli unseen on the way
	to            int // place, counted from 1: 0 is the core
	weight        float64
}

const (
	mostUnseen = 2    // between two places
	rarest     = 1e-5 // chance of so many unseen that is still weighed
	farthest   = 3.5  // SDs of growth that are still weighed
)

// at is where a node lies: 0 the core, then the places.
func (w *Work) at(node int) float64 {
	if node == 0 {
		return 0
	}
	return w.places[node-1].um
}

// cell is the index of a node with a count.
func cell(node, count int) int { return node*(mostAnnuli+1) + count }

// weigh makes the edges and their weights, and sums forward from the core on its way:
// forward is the weight of all sequences that lead to a node with a count. What is less
// than 1e-7 as likely there as another count is not followed.
func (w *Work) weigh() {
	w.edges, w.from = w.edges[:0], w.from[:0]
	nodes := len(w.places) + 1
	size := nodes * (mostAnnuli + 1)
	w.forward = slices.Grow(w.forward[:0], size)[:size]
	clear(w.forward)
	w.forward[0] = 1
	for i := range nodes {
		w.from = append(w.from, len(w.edges))
		here := w.forward[cell(i, 0):cell(i+1, 0)]
		likely := slices.Max(here) * 1e-7
		for count, sum := range here {
			if sum <= likely {
				here[count] = 0
				continue
			}
			for unseen := 0; unseen <= mostUnseen && count+unseen < mostAnnuli; unseen++ {
				w.weighFrom(i, count, unseen)
			}
		}
	}
	w.from = append(w.from, len(w.edges))
	w.weighEnds()
}

// weighFrom makes the edges from one place at one count over so many unseen annuli.
func (w *Work) weighFrom(i, count, unseen int) {
	last, sum := w.at(i), w.forward[cell(i, count)]
	width, mean, sd := w.model.years(count, unseen, last, w.own)
	chance := 1 - w.model.unseen(width[unseen])
	for k := range unseen {
		chance *= w.model.unseen(width[k])
	}
	if chance < rarest {
		return
	}
	chance /= sd * math.Sqrt(2*math.Pi) * w.model.Rate
	near, far := last+math.Exp(mean-farthest*sd), last+math.Exp(mean+farthest*sd)
	for j := i + 1; j <= len(w.places); j++ {
		p := &w.places[j-1]
		if p.um > far {
			return
		}
		if p.um < near {
			continue
		}
		d := p.um - last
		z := (math.Log(d) - mean) / sd
		weight := chance * math.Exp(-0.5*z*z) / d * p.odds
		w.edges = append(w.edges, edge{count, unseen, j, weight})
		w.forward[cell(j, count+unseen+1)] += float64(sum * weight)
	}
}

// years is the middle width of each of the next unseen + 1 years from annulus count at
// last, and mean and SD of the logarithm of their sum.
func (m *Model) years(count, unseen int, last, own float64) (width [mostUnseen + 1]float64, mean, sd float64) {
	at, spread := last, 0.0
	for k := range unseen + 1 {
		mean, sd = m.year(count+k+1, at, own)
		width[k] = math.Exp(mean)
		spread += square(width[k] * sd)
		at += width[k]
	}
	sum := at - last
	return width, math.Log(sum), math.Sqrt(spread) / sum
}

// weighEnds is how each node may be the last that is seen before the edge of the stone.
func (w *Work) weighEnds() {
	w.finish = slices.Grow(w.finish[:0], len(w.forward))[:len(w.forward)]
	w.missed = slices.Grow(w.missed[:0], len(w.forward))[:len(w.forward)]
	clear(w.finish)
	clear(w.missed)
	for c, sum := range w.forward {
		if sum == 0 {
			continue
		}
		node, count := c/(mostAnnuli+1), c%(mostAnnuli+1)
		gap := max(w.edgeUm-w.at(node), 1)
		if mean, sd := w.model.year(count+1, w.at(node), w.own); gap > 2*math.Exp(mean+4*sd) {
			continue // more than two years' growth, be they ever so wide
		}
		w.finish[c] = w.model.ending(count, w.at(node), gap, w.own)
		if count < mostAnnuli {
			w.missed[c] = w.model.endingUnseen(count, w.at(node), gap, w.own)
		}
	}
}

// ending is the chance h(x) of a last gap of x µm beyond an annulus, a µm: caught at any
// time of the year, ∫_x^∞ g(d)/d dd.
func (m *Model) ending(count int, last, gap, own float64) float64 {
	mean, sd := m.year(count+1, last, own)
	return math.Exp(-mean+0.5*sd*sd) * normalAbove((math.Log(gap)-mean)/sd+sd)
}

// endingUnseen is that of a gap in which one annulus lies that shows nothing, over five
// equally likely widths of the year that it closes.
func (m *Model) endingUnseen(count int, last, gap, own float64) float64 {
	mean, sd := m.year(count+1, last, own)
	sum := 0.0
	for _, z := range [...]float64{-1.2816, -0.5244, 0, 0.5244, 1.2816} {
		d := math.Exp(mean + z*sd)
		if d < gap {
			sum += m.unseen(d) * m.ending(count+1, last+d, gap-d, own) / 5
		}
	}
	return sum
}

// sum adds up all sequences of all counts, over all that a fish's own growth may be.
func (w *Work) sum() {
	w.begin()
	for g := range ownAt {
		w.grow(g)
		w.backward(-1)
		w.add(&w.all, g)
	}
}

// begin empties what is added up.
func (w *Work) begin() { w.all.empty(len(w.places) + 1) }

func (s *sums) empty(nodes int) {
	s.total = 0
	clear(s.ended[:])
	clear(s.group[:])
	s.there = slices.Grow(s.there[:0], nodes)[:nodes]
	clear(s.there)
}

// grow weighs the lattice for one of the growths that a fish may have.
func (w *Work) grow(g int) {
	w.own = w.model.FishSD * ownAt[g]
	w.weigh()
}

// sums are what is added up over sequences and growths.
type sums struct {
	total float64
	there []float64               // through each node
	ended [mostAnnuli + 1]float64 // of each count
	group [len(ownAt)][mostAnnuli + 1]float64
}

// add adds up what was summed forward and backward for one of the growths.
func (w *Work) add(to *sums, g int) {
	chance := ownChance[g]
	to.total += float64(chance * w.back[0])
	for c, sum := range w.forward {
		if sum == 0 {
			continue
		}
		node, k := c/(mostAnnuli+1), c%(mostAnnuli+1)
		to.there[node] += float64(float64(chance*sum) * w.back[c])
		to.group[g][k] += float64(float64(chance*sum) * w.finish[c])
		if k < mostAnnuli {
			to.group[g][k+1] += float64(float64(chance*sum) * w.missed[c])
		}
	}
	for k, v := range to.group[g] {
		to.ended[k] += v
	}
}

// backward sums from the edge of the stone to the core, over sequences of one count or,
// below 0, of all.
func (w *Work) backward(only int) {
	size := (len(w.places) + 1) * (mostAnnuli + 1)
	w.back = slices.Grow(w.back[:0], size)[:size]
	for c := range w.back {
		count := c % (mostAnnuli + 1)
		w.back[c] = 0
		if only < 0 || count == only {
			w.back[c] += w.finish[c]
		}
		if only < 0 || count+1 == only {
			w.back[c] += w.missed[c]
		}
	}
	for i := len(w.places); i >= 0; i-- {
		for _, e := range w.edges[w.from[i]:w.from[i+1]] {
			to := cell(e.to, e.count+e.unseen+1)
			if len(w.allowed) == 0 || w.allowed[to] {
				w.back[cell(i, e.count)] += float64(e.weight * w.back[to])
			}
		}
	}
}

// best is the sequence of a count with the largest weight, under the growth that
// suits the count best: its places in µm, each with its probability over all sequences
// of all counts and growths.
func (w *Work) best(count int) []Mark {
	suits := 0
	for g := range w.all.group {
		if w.all.group[g][count] > w.all.group[suits][count] {
			suits = g
		}
	}
	w.grow(suits)
	w.backward(-1)
	nodes := len(w.places) + 1
	size := nodes * (mostAnnuli + 1)
	w.top = slices.Grow(w.top[:0], size)[:size]
	w.came = slices.Grow(w.came[:0], size)[:size]
	clear(w.top)
	w.top[0] = 1
	for i := range nodes {
		for at, e := range w.edges[w.from[i]:w.from[i+1]] {
			to := cell(e.to, e.count+e.unseen+1)
			if v := w.top[cell(i, e.count)] * e.weight; v > w.top[to] {
				w.top[to], w.came[to] = v, int32(w.from[i]+at)
			}
		}
	}
	end, last, most := 0, count, 0.0
	for i := range nodes {
		if v := w.top[cell(i, count)] * w.finish[cell(i, count)]; v > most {
			end, last, most = i, count, v
		}
		if count > 0 {
			if v := w.top[cell(i, count-1)] * w.missed[cell(i, count-1)]; v > most {
				end, last, most = i, count-1, v
			}
		}
	}
	marks := w.trace(end, last)
	if last < count {
		marks = append(marks, w.beyond(end))
	}
	w.sure(marks)
	return marks
}

// beyond is an unseen mark between the last place and the edge of the stone.
func (w *Work) beyond(node int) Mark {
	sum := 0.0
	for k := range mostAnnuli {
		sum += float64(w.forward[cell(node, k)] * w.missed[cell(node, k)])
	}
	return Mark{At: 0.5 * (w.at(node) + w.edgeUm), Confidence: min(sum/w.back[0], 1), Unseen: true}
}

// trace goes from the last place back to the core.
func (w *Work) trace(node, count int) []Mark {
	marks := make([]Mark, count)
	for count > 0 {
		index := int(w.came[cell(node, count)])
		e := w.edges[index]
		start := w.startOf(index)
		marks[count-1] = Mark{At: w.at(node)}
		width, _, _ := w.model.years(e.count, e.unseen, w.at(start), w.own)
		sum, at := 0.0, w.at(start)
		for k := range e.unseen + 1 {
			sum += width[k]
		}
		for k := range e.unseen {
			at += width[k] / sum * (w.at(node) - w.at(start))
			marks[e.count+k] = Mark{At: at, Confidence: w.skipped(start, node), Unseen: true}
		}
		node, count = start, e.count
	}
	return marks
}

// startOf is the node that an edge goes out from.
func (w *Work) startOf(index int) int {
	i, found := slices.BinarySearch(w.from, index)
	if !found {
		return i - 1
	}
	for i+1 < len(w.from) && w.from[i+1] == index { // nodes without edges
		i++
	}
	return i
}

// reachUm is how far from a mark its annulus may lie: no reader would set it closer.
const reachUm = 60

// sure gives each mark that is seen its probability: that an annulus lies within reach of it
// and nearer than half way to its neighbours. Places side by side that may be the same
// annulus speak for it together.
func (w *Work) sure(marks []Mark) {
	for i := range marks {
		if marks[i].Unseen {
			continue
		}
		low, high := marks[i].At-reachUm, marks[i].At+reachUm
		if i > 0 {
			low = max(low, (marks[i].At+marks[i-1].At)/2)
		}
		if i+1 < len(marks) {
			high = min(high, (marks[i].At+marks[i+1].At)/2)
		}
		sum := 0.0
		for k := range w.places {
			if at := w.places[k].um; at >= low && at <= high {
				sum += w.all.there[k+1]
			}
		}
		marks[i].Confidence = min(sum/w.all.total, 1)
	}
}

// skipped is the probability that there is an unseen annulus between two nodes, under the
// growth that was weighed last.
func (w *Work) skipped(start, end int) float64 {
	sum := 0.0
	for i := 0; i <= start; i++ {
		for _, e := range w.edges[w.from[i]:w.from[i+1]] {
			if e.unseen > 0 && e.to >= end {
				sum += float64(w.forward[cell(i, e.count)]*e.weight) * w.back[cell(e.to, e.count+e.unseen+1)]
			}
		}
	}
	return min(sum/w.back[0], 1)
}

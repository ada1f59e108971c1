package fishery

import (
	"slices"

	"earstone/statistics/stream"
)

// picked is a fish whose stone is aged.
type picked struct {
	fish
	stratum int32
	day     int32 // caught, a serial number
}

// picking takes stones by a quota a length bin and quarter, the same for each: all
// fish of a bin with fewer, a random sample of the quota's size of the fish measured
// in a bin with more. So stones are not in proportion to the catch, and each fish of
// a bin and quarter is as likely to be taken as another, whatever its trip. That is
// what a key asks for; a quota filled by the first trips of a quarter, or by as many
// fish from a trip that met few of them, would make it lean to those trips.
type picking struct {
	binCm  int
	bins   int
	there  []int32 // fish measured, quarter × bin
	wanted []int32 // still to be picked
	left   []int32 // still to be looked at
	passed []int32 // measured fish that were not taken
}

func newPicking(binCm, longestCm int) *picking {
	p := &picking{binCm: binCm, bins: longestCm/binCm + 1}
	p.there = make([]int32, 4*p.bins)
	p.wanted = make([]int32, 4*p.bins)
	p.left = make([]int32, 4*p.bins)
	return p
}

func (p *picking) box(quarter int, cm int16) int { return quarter*p.bins + int(cm)/p.binCm }

// ration sets wanted so that it sums to n: the quota, and one more in some boxes from
// the first on where the quota leaves a rest. Fewer than n fish are all taken.
func (p *picking) ration(n int) {
	copy(p.left, p.there)
	quota := int32(0)
	for p.within(quota+1) <= n && p.within(quota+1) > p.within(quota) {
		quota++
	}
	rest := n - p.within(quota)
	for i, there := range p.there {
		p.wanted[i] = min(there, quota)
		if there > quota && rest > 0 {
			p.wanted[i]++
			rest--
		}
	}
}

// within is how many fish a quota takes.
func (p *picking) within(quota int32) int {
	n := 0
	for _, there := range p.there {
		n += int(min(there, quota))
	}
	return n
}

// take decides on the next fish of a box.
func (p *picking) take(draw *stream.Stream, box int) bool {
	if p.wanted[box] == 0 {
		return false
	}
	taken := draw.IntN(int(p.left[box])) < int(p.wanted[box])
	p.left[box]--
	if taken {
		p.wanted[box]--
	}
	return taken
}

// pickYear picks n stones among the measured fish of a year, in the order of trips and
// at random within a trip.
func (f *Fishery) pickYear(to []picked, p *picking, draw *stream.Stream, measured []fish, trips []trip, n int) []picked {
	clear(p.there)
	p.passed = p.passed[:0]
	quarter := func(x fish) int { return f.kinds[f.strata[trips[x.trip].stratum].kind].quarter }
	for _, x := range measured {
		p.there[p.box(quarter(x), x.cm)]++
	}
	if p.ration(n); f.asked != nil {
		p.askFor(f.asked)
	}
	first := len(to)
	for i, x := range measured {
		if !p.take(draw, p.box(quarter(x), x.cm)) {
			p.passed = append(p.passed, int32(i))
			continue
		}
		if len(to) > first && to[len(to)-1].trip != x.trip {
			mixUp(draw, to[first:])
			first = len(to)
		}
		t := trips[x.trip]
		to = append(to, picked{fish: x, stratum: t.stratum, day: t.day})
	}
	mixUp(draw, to[first:])
	return to
}

// pickRest picks n of the measured fish that pickYear passed by, each as likely as
// another, in the order of trips; all of them when there are fewer.
func (f *Fishery) pickRest(to []picked, p *picking, draw *stream.Stream, measured []fish, trips []trip, n int) []picked {
	n = min(n, len(p.passed))
	for i := range n {
		j := i + draw.IntN(len(p.passed)-i)
		p.passed[i], p.passed[j] = p.passed[j], p.passed[i]
	}
	rest := p.passed[:n]
	slices.Sort(rest)
	for _, i := range rest {
		t := trips[measured[i].trip]
		to = append(to, picked{fish: measured[i], stratum: t.stratum, day: t.day})
	}
	return to
}

// pickAssayed picks n of a year's aged fish for assay by the quota of pickYear, and
// appends their places, the first of them being that of fish[0].
func (f *Fishery) pickAssayed(to []int32, p *picking, draw *stream.Stream, fish []picked, first, n int) []int32 {
	if n == 0 {
		return to
	}
	clear(p.there)
	box := func(x *picked) int { return p.box(f.kinds[f.strata[x.stratum].kind].quarter, x.cm) }
	for i := range fish {
		p.there[box(&fish[i])]++
	}
	p.ration(n)
	for i := range fish {
		if p.take(draw, box(&fish[i])) {
			to = append(to, int32(first+i))
		}
	}
	return to
}

// pickStrays picks n fish of a year that came off no sampled trip, strata in proportion
// to their catch, on any day of the quarter.
func (f *Fishery) pickStrays(to []picked, draw *stream.Stream, year, n int) []picked {
	first := year * len(f.kinds)
	weights := make([]float64, len(f.kinds))
	for k := range weights {
		weights[k] = f.strata[first+k].number
	}
	for range n {
		i := first + draw.Choose(weights)
		st := &f.strata[i]
		start, days := quarterOf(int(st.cell.Year), int(st.cell.Quarter)-1)
		to = append(to, picked{fish: f.stray(draw, st), stratum: int32(i), day: int32(start + draw.IntN(days))})
	}
	return to
}

// stray is one fish of a trip of the stratum that nobody sampled.
func (f *Fishery) stray(draw *stream.Stream, st *stratum) fish {
	z, a := draw.Normal(), 0
	for st.score[a] <= z {
		a++
	}
	return fish{trip: -1, cm: int16(f.kinds[st.kind].sizes[a].at(draw.Normal())), age: uint8(a + 1)}
}

// mixUp hides the order of ages in which the fish of a trip were drawn.
func mixUp(draw *stream.Stream, of []picked) {
	draw.Shuffle(len(of), func(i, j int) { of[i], of[j] = of[j], of[i] })
}

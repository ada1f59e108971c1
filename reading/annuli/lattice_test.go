package annuli

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// small is a lattice of few places with evidence of its own.
func small(t *rapid.T) *Work {
	w := NewWork(Default())
	at := rapid.Float64Range(600, 1000).Draw(t, "first")
	for range rapid.IntRange(1, 5).Draw(t, "places") {
		w.places = append(w.places, place{um: at, odds: math.Exp(rapid.Float64Range(-3, 4).Draw(t, "evidence"))})
		at += rapid.Float64Range(40, 400).Draw(t, "on")
	}
	w.edgeUm = at
	return w
}

// sequence is a list of nodes with the unseen annuli before each, and those beyond the last.
type sequence struct {
	nodes, unseen []int
	missed        bool
}

func (s sequence) count() int {
	n := len(s.nodes)
	for _, u := range s.unseen {
		n += u
	}
	if s.missed {
		n++
	}
	return n
}

// sequences are all that a lattice of so many places allows.
func sequences(places int) []sequence {
	all := []sequence{{}}
	for from := 0; from < len(all); from++ {
		s, last := all[from], 0
		if n := len(s.nodes); n > 0 {
			last = s.nodes[n-1]
		}
		for next := last + 1; next <= places; next++ {
			for u := 0; u <= mostUnseen; u++ {
				all = append(all, sequence{
					nodes:  append(append([]int(nil), s.nodes...), next),
					unseen: append(append([]int(nil), s.unseen...), u),
				})
			}
		}
	}
	for _, s := range all[:len(all):len(all)] {
		s.missed = true
		all = append(all, s)
	}
	return all
}

// weight is that of a sequence straight from its definition, over all growths.
func (w *Work) weight(s sequence) float64 {
	m, sum := &w.model, 0.0
	for g, z := range ownAt {
		own, product, count, last := m.FishSD*z, ownChance[g], 0, 0.0
		for i, node := range s.nodes {
			width, mean, sd := m.years(count, s.unseen[i], last, own)
			d := w.at(node) - last
			x := (math.Log(d) - mean) / sd
			if math.Abs(x) > farthest {
				product = 0
			}
			product *= math.Exp(-0.5*x*x) / (sd * math.Sqrt(2*math.Pi) * d) * w.places[node-1].odds / m.Rate
			for k := range s.unseen[i] {
				product *= m.unseen(width[k])
			}
			product *= 1 - m.unseen(width[s.unseen[i]])
			count += s.unseen[i] + 1
			last = w.at(node)
		}
		if s.missed {
			product *= m.endingUnseen(count, last, w.edgeUm-last, own)
		} else {
			product *= m.ending(count, last, w.edgeUm-last, own)
		}
		sum += product
	}
	return sum
}

// The sums over the lattice are those over all sequences, one by one.
func TestLatticeSumsAllSequences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := small(t)
		w.sum()
		total, there := 0.0, make([]float64, len(w.places)+1)
		var ended [mostAnnuli + 1]float64
		for _, s := range sequences(len(w.places)) {
			v := w.weight(s)
			total += v
			ended[s.count()] += v
			for _, node := range s.nodes {
				there[node] += v
			}
		}
		near := func(what string, got, want float64) {
			t.Helper()
			if math.Abs(got-want) > 1e-4*total { // what is very rare is not followed
				t.Fatalf("%s is %v over the lattice and %v over all sequences, of %v in all.", what, got, want, total)
			}
		}
		near("The sum", w.all.total, total)
		for k := range ended {
			near("The sum of a count", w.all.ended[k], ended[k])
		}
		for node := 1; node < len(there); node++ {
			near("The sum through a place", w.all.there[node], there[node])
		}
	})
}

// The best sequence of a count is one of that count, in order, and none has more weight
// under the growth that suits the count best.
func TestBestSequenceHasTheCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := small(t)
		w.sum()
		if !(w.all.total > 0) {
			return
		}
		for count := range 5 {
			if w.all.ended[count] == 0 {
				continue
			}
			marks := w.best(count)
			if len(marks) != count {
				t.Fatalf("The best sequence of %d annuli has %d marks.", count, len(marks))
			}
			last := 0.0
			for _, m := range marks {
				if m.At <= last || m.At > w.edgeUm || m.Confidence < 0 || m.Confidence > 1 {
					t.Fatalf("The marks %+v are not in order between core and edge, each with a probability.", marks)
				}
				last = m.At
			}
		}
	})
}

// h is a density of the gap: together over all gaps it comes to one.
func TestEndingIsADensity(t *testing.T) {
	m := Default()
	for _, count := range []int{0, 1, 5, 15} {
		last := 800 + 60*float64(count)
		if count == 0 {
			last = 0
		}
		sum := 0.0
		for gap := 0.5; gap < 8000; gap++ {
			sum += m.ending(count, last, gap, 0)
		}
		if math.Abs(sum-1) > 2e-3 {
			t.Errorf("After %d annuli the gaps up to 8 mm have the probability %v, want 1.", count, sum)
		}
	}
}

func TestOwnGrowthsAreNormal(t *testing.T) {
	sum, mean, square := 0.0, 0.0, 0.0
	for g, z := range ownAt {
		sum += ownChance[g]
		mean += ownChance[g] * z
		square += ownChance[g] * z * z
	}
	if math.Abs(sum-1) > 1e-9 || math.Abs(mean) > 1e-9 || math.Abs(square-0.87) > 0.02 {
		t.Errorf("The growths that are summed over have chance %v, mean %v and square %v; want 1, 0 and 0.87, that of a normal cut at 2⅓ SD.", sum, mean, square)
	}
}

func TestNoAllocations(t *testing.T) {
	w := NewWork(Default())
	at := 880.0
	for k := range 40 {
		w.places = append(w.places, place{um: at, odds: 1 + float64(k%3)})
		at += 50
	}
	w.edgeUm = at
	w.sum()
	if n := testing.AllocsPerRun(3, w.sum); n != 0 {
		t.Errorf("Summing over a lattice allocates %v times once there is room, want never.", n)
	}
}

func BenchmarkSum(b *testing.B) {
	w := NewWork(Default())
	at := 880.0
	for range 40 {
		w.places = append(w.places, place{um: at, odds: 1})
		at += 50
	}
	w.edgeUm = at
	b.ReportAllocs()
	for b.Loop() {
		w.sum()
	}
}

package origin

import (
	"math"
	"slices"
	"testing"

	"earstone/statistics/interval"
	"earstone/statistics/stream"
)

// replicates draws a worker's rows: fish of the catch and baseline anew.
func replicates(w *Composer, fish, n int, seed uint64) [][]float64 {
	rows, times, picks := make([][]float64, n), make([]float64, fish), make([]int32, fish)
	var baseline, stones stream.Stream
	for b := range rows {
		rows[b] = make([]float64, w.Size())
		baseline.Reset(seed, stream.Baseline, b)
		stones.Reset(seed, stream.Stones, b)
		stones.Picks(picks, fish-1)
		for i, t := range picks {
			times[i] = float64(t) * float64(fish) / float64(fish-1)
		}
		w.Redraw(&baseline)
		w.Compose(rows[b], times, &stones)
	}
	return rows
}

// between is the 95 % interval of a quantity of the rows.
func between(rows [][]float64, of func(row []float64) float64) interval.Interval {
	x := make([]float64, len(rows))
	for b, row := range rows {
		x[b] = of(row)
	}
	slices.Sort(x)
	return interval.Percentile(x, 0.95)
}

// tally counts intervals that hold what is true.
type tally struct {
	held, all   int
	bias, width float64
}

func (c *tally) put(i interval.Interval, estimate, truth float64) {
	c.all++
	if i.Low <= truth && truth <= i.High {
		c.held++
	}
	c.bias += estimate - truth
	c.width += i.High - i.Low
}

func (c *tally) share() float64 { return float64(c.held) / float64(c.all) }

// In 550 samples (350 where drawn again; 150 for the seas of three) 95 % intervals held the
// truth in these shares of cases, Monte Carlo SE 0.01 (0.02 for three):
//
//	two nurseries 0.7, 0.3          drawn again 0.93  Bayes 0.93  Bayes, mixed fish teaching 0.94
//	three, 0.58, 0.40, 0.02         drawn again 0.96  Bayes 0.96  teaching 0.95
//	three, no year effects          drawn again 0.94  Bayes 0.93  teaching 0.94
//	two, all of unseen year classes drawn again 0.98  Bayes 0.96  teaching 0.94
//
// This test does a small part of that with fixed seeds, and asks for 0.90 of each way.
func TestIntervalsHoldTheTruth(t *testing.T) {
	two := sea{mean: [][]float64{{-8.6, -0.7}, {-9.2, -1.1}}, sd: []float64{0.25, 0.22}, yearSD: 0.4,
		share: []float64{0.7, 0.3}, years: 4, known: 12, mixed: 150}
	rare := season
	rare.share, rare.years, rare.mixed, rare.ages, rare.known = []float64{0.58, 0.4, 0.02}, 5, 200, 0, 12
	unseen := two
	unseen.unseen = true
	var width [3]float64
	var drawn, bayes, teaching tally
	for n, e := range []sea{two, rare, unseen} {
		before := drawn
		for sample := range 25 {
			p := e.draw(1000*n + 500 + sample)
			f := estimate(t, p, Settings{Form: Own})
			g, err := f.Groups(Pooling{Groups: 1, First: 5, Last: 5})
			if err != nil {
				t.Fatal(err)
			}
			rows := replicates(g.NewComposer(), len(p.Mixed), 159, uint64(sample))
			cut := simulate(t, f, Simulation{Chains: 1, Sweeps: 500, Seed: uint64(sample)})
			full := simulate(t, f, Simulation{Chains: 1, Sweeps: 500, Seed: uint64(sample), Inform: true})
			for k, truth := range e.share {
				drawn.put(between(rows, func(row []float64) float64 { return row[k] }), f.Composition.Share[k], truth)
				bayes.put(interval.Interval{Low: cut.Low[k], High: cut.High[k]}, cut.Share[k], truth)
				teaching.put(interval.Interval{Low: full.Low[k], High: full.High[k]}, full.Share[k], truth)
			}
		}
		width[n] = (drawn.width - before.width) / float64(drawn.all-before.all)
	}
	for what, c := range map[string]*tally{"drawn again": &drawn, "Bayes": &bayes, "Bayes, teaching": &teaching} {
		t.Logf("%s: %d of %d intervals hold the truth", what, c.held, c.all)
		if c.share() < 0.90 {
			t.Errorf("%s: %d of %d intervals hold the truth, want nine in ten at least", what, c.held, c.all)
		}
	}
	if width[2] < 1.2*width[0] {
		t.Errorf("intervals of unseen year classes are %.3f wide on the mean, of seen ones %.3f: want a fifth wider at least", width[2], width[0])
	}
}

// A share that falls over ages from 0.8 to 0.2: single ages have their own answers, the
// first and the last as much as the middle.
func TestSingleAgesHaveTheirOwnShare(t *testing.T) {
	const ages = 10
	truth := func(a int) float64 { return 1 / (1 + math.Exp(2.8*(float64(a)/(ages-1)-0.5))) }
	var each tally
	walked, handed := 0.0, 0.0
	for sample := range 25 {
		e := sea{mean: [][]float64{{-8.6, -0.7}, {-9.2, -1.1}}, sd: []float64{0.25, 0.22}, share: []float64{1, 1}, years: 2, known: 30, mixed: 600, ages: ages}
		p := e.draw(7000 + sample)
		var s stream.Stream
		s.Reset(7, stream.Invention, sample)
		var kept []Mixed
		for i := 0; len(kept) < 300; i++ { // fish that fit their age, the nursery told by the side it lies on
			m := p.Mixed[i%600]
			share := truth(m.Age)
			k := 0
			if s.Float64() > share {
				k = 1
			}
			m.X = []float64{e.mean[k][0] + 0.25*s.Normal(), e.mean[k][1] + 0.22*s.Normal()}
			kept = append(kept, m)
		}
		p.Mixed = kept
		g, err := estimate(t, p, Settings{Form: Own, PoolYears: true}).Groups(Pooling{Groups: 1, Last: ages - 1})
		if err != nil {
			t.Fatal(err)
		}
		rows := replicates(g.NewComposer(), len(kept), 159, uint64(sample))
		for a := range ages {
			share := g.Of(g.Share, 0, a)[0]
			each.put(between(rows, func(row []float64) float64 { return g.Of(row[3:], 0, a)[0] }), share, truth(a))
			walked += math.Abs(share - truth(a))
			handed += math.Abs(g.fit.Composition.Share[0] - truth(a))
		}
	}
	if each.share() < 0.90 || each.share() > 0.99 {
		t.Errorf("%d of %d intervals of single ages hold the truth, want 93 to 97 in a hundred", each.held, each.all)
	}
	if bias := each.bias / float64(each.all); math.Abs(bias) > 0.02 {
		t.Errorf("single ages are off by %+.3f on the mean", bias)
	}
	if walked > 0.5*handed {
		t.Errorf("single ages are off by %.3f, by the share of all ages %.3f: want less than half", walked/float64(each.all), handed/float64(each.all))
	}
}

func TestANurseryThatTheBaselineLacks(t *testing.T) {
	e := season
	e.mean = [][]float64{{-8.6, -0.7}, {-9.2, -1.1}, {-6.4, 1.2}} // the third is far from both
	e.share, e.mixed, e.yearSD = []float64{0.5, 0.3, 0.2}, 300, 0.2
	p := e.draw(61)
	p.Nurseries = p.Nurseries[:2]
	p.Baseline = p.Baseline[:2*e.years*e.known]
	f := estimate(t, p, Settings{})
	if math.Abs(f.OutsideShare-0.2) > 0.06 {
		t.Errorf("the share outside is %.3f, want about 0.2", f.OutsideShare)
	}
	if got := f.Composition.Share[0]; math.Abs(got-0.5/0.8) > 0.08 {
		t.Errorf("share of the first nursery among fish inside = %.3f, want about 0.625", got)
	}
	g, err := f.Groups(Pooling{Groups: 1, Last: 11})
	if err != nil {
		t.Fatal(err)
	}
	c := g.NewComposer()
	rows := replicates(c, len(p.Mixed), 99, 1)
	if i := between(rows, c.Outside); i.Low > 0.2 || i.High < 0.2 || i.High-i.Low < 0.02 {
		t.Errorf("the interval of the share outside is %+v, want one that holds 0.2", i)
	}
	kept := estimate(t, p, Settings{KeepOutside: true})
	if kept.OutsideShare != f.OutsideShare || kept.Composition.Fish != f.Composition.Fish+f.Outsiders {
		t.Errorf("kept in: %d fish, %.3f outside; want %d, %.3f", kept.Composition.Fish, kept.OutsideShare, f.Composition.Fish+f.Outsiders, f.OutsideShare)
	}
}

// A baseline that has every nursery calls few fish outside: under all tails at once much
// less than one in two hundred.
func TestFewAreOutsideByChance(t *testing.T) {
	out := 0
	for sample := range 5 {
		out += estimate(t, season.draw(70+sample), Settings{}).Outsiders
	}
	if out > 15 {
		t.Errorf("%d of 3,000 fish of known nurseries are called outside, want 15 at most", out)
	}
}

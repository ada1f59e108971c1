package key

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"earstone/reference"
)

// trueGolden is what the golden file of keys of true ages holds.
type trueGolden struct {
	Input struct {
		Cell struct {
			ErrorMatrix [][]float64 `json:"error_matrix"`
			NByCount    []float64   `json:"n_by_count"`
		}
		Smoothed struct {
			Matrix1  [][]float64 `json:"error_matrix_1"`
			Matrix2  [][]float64 `json:"error_matrix_2"`
			Mid      []float64   `json:"bin_midpoint"`
			Reading1 []int16     `json:"reading_1"`
			Reading2 []*int16    `json:"reading_2"`
		}
	}
	Output struct {
		Cell struct {
			After1        []float64 `json:"q_after_1"`
			After5        []float64 `json:"q_after_5"`
			After25       []float64 `json:"q_after_25"`
			Q             []float64
			LogLikelihood float64 `json:"log_likelihood"`
		}
		Smoothed struct {
			At              []float64   `json:"q_at"`
			FirstQ          [][]float64 `json:"q_after_first_m_step"`
			FirstLikelihood float64     `json:"log_likelihood_after_first_m_step"`
			Q               [][]float64
			LogLikelihood   float64 `json:"log_likelihood"`
		}
	}
}

func flat(rows [][]float64) []float64 {
	var all []float64
	for _, row := range rows {
		all = append(all, row...)
	}
	return all
}

func alike(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tol*math.Max(1e-12, math.Abs(want[i]))) {
			t.Errorf("%s: number %d of %d = %.12g, want %.12g", what, i+1, len(want), got[i], want[i])
		}
	}
}

func oneStratum(mid []float64, ages int) Grid {
	return Grid{Bins: len(mid), Mid: mid, Ages: ages, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}}
}

func TestTrueAgesOfOneCellAgainstGolden(t *testing.T) {
	// Golden topic 16, cell: plain EM of an independent tool, its limit found again by
	// Newton's method on the likelihood.
	var golden trueGolden
	reference.Golden(t, "16-key-with-ageing-error", &golden)
	s := Sample{Grid: oneStratum([]float64{100}, 5), Readers: 1}
	for c, fish := range golden.Input.Cell.NByCount {
		s.Patterns = append(s.Patterns, []int16{int16(c)})
		s.Entries = append(s.Entries, Entry{Trip: -1, Age: -1, Pattern: int32(c), Fish: fish})
	}
	readers := [][]float64{flat(golden.Input.Cell.ErrorMatrix)}
	work, err := NewTrue(s, readers, Borrowing{Least: 1})
	if err != nil {
		t.Fatal(err)
	}
	want := golden.Output.Cell
	alike(t, "shares of true ages", work.shares, want.Q, 1e-6)

	m := &work.mixture
	m.begin(nil)
	for step := 1; step <= 25; step++ {
		m.step(m.q1, m.q)
		m.q, m.q1 = m.q1, m.q
		switch step {
		case 1:
			alike(t, "after one step", m.q, want.After1, 1e-9)
		case 5:
			alike(t, "after five steps", m.q, want.After5, 1e-9)
		case 25:
			alike(t, "after 25 steps", m.q, want.After25, 1e-9)
		}
	}
	alike(t, "log-likelihood", []float64{m.likelihood(work.shares)}, []float64{want.LogLikelihood}, 1e-9)
}

// readTwice is the invented sample with two readings of the golden file: true ages 1
// to 5 as classes 0 to 4.
func readTwice(golden trueGolden) (Sample, [][]float64) {
	in := golden.Input.Smoothed
	var mid []float64
	for l := 55.0; l <= 195; l += 10 {
		mid = append(mid, l)
	}
	s := Sample{Grid: oneStratum(mid, 5), Readers: 2}
	for i, length := range in.Mid {
		pattern := []int16{in.Reading1[i], -1}
		if in.Reading2[i] != nil {
			pattern[1] = *in.Reading2[i]
		}
		s.Patterns = append(s.Patterns, pattern)
		s.Entries = append(s.Entries, Entry{Trip: -1, Bin: int32((length - 55) / 10), Age: -1, Pattern: int32(i), Fish: 1})
	}
	return s, [][]float64{flat(in.Matrix1), flat(in.Matrix2)}
}

func TestSmoothedTrueAgesAgainstGolden(t *testing.T) {
	// Golden topic 16, smoothed: EM over iteratively reweighted least squares of an
	// independent tool, its limit found again by Newton's method on the likelihood.
	var golden trueGolden
	reference.Golden(t, "16-key-with-ageing-error", &golden)
	s, readers := readTwice(golden)
	work, err := NewTrueSmooth(s, readers, Smoothing{DF: 2, Strata: math.Inf(1), Curvature: -1})
	if err != nil {
		t.Fatal(err)
	}
	want := golden.Output.Smoothed
	q, from := make([]float64, len(s.Grid.Mid)*5), make([]Source, len(s.Grid.Mid))
	work.show(q, from, &Told{Fish: 1})
	alike(t, "log-likelihood", []float64{work.likelihood(work.b)}, []float64{want.LogLikelihood}, 1e-8)
	alike(t, "key of true ages", q, flat(want.Q), 1e-6)

	clear(work.start)
	work.startUp()
	copy(work.b, work.start)
	alike(t, "log-likelihood after the first M step", []float64{work.likelihood(work.b)}, []float64{want.FirstLikelihood}, 1e-8)
	work.show(q, from, &Told{Fish: 1})
	alike(t, "key after the first M step", q, flat(want.FirstQ), 1e-7)
}

func TestMixtureLikelihoodNeverFalls(t *testing.T) {
	// The likelihood after each cycle is at least that before it, and at the end no share
	// could gain more than the tolerance.
	rapid.Check(t, func(t *rapid.T) {
		ages, rows := rapid.IntRange(1, 7).Draw(t, "ages"), rapid.IntRange(1, 9).Draw(t, "rows")
		density := make([]float64, rows*ages)
		for i := range density {
			density[i] = math.Exp(-rapid.Float64Range(0, 12).Draw(t, "−log T"))
		}
		m := densities(density, ages)
		for p := range rows {
			m.add(int32(p), float64(rapid.IntRange(1, 20).Draw(t, "fish")))
		}
		m.begin(nil)
		before := m.likelihood(m.q)
		for range 50 {
			m.cycle(0)
			after := m.likelihood(m.q)
			if after < before-1e-9*(1+math.Abs(before)) {
				t.Fatalf("a cycle took the log-likelihood from %v to %v", before, after)
			}
			before = after
		}
		share := make([]float64, ages)
		if _, settled := m.fit(share, nil, 1e-3); !settled || math.Abs(sum(share)-1) > 1e-9 {
			t.Fatalf("the shares %v sum to %v, settled %v", share, sum(share), settled)
		}
		if gap := m.likelihood(share); gap < before-1e-3 {
			t.Fatalf("the fit ends at %v, cycles without end at %v", gap, before)
		}
	})
}

func TestRefitsComeNearTheirMaximum(t *testing.T) {
	var golden trueGolden
	reference.Golden(t, "16-key-with-ageing-error", &golden)
	s, readers := readTwice(golden)
	work, err := NewTrueSmooth(s, readers, Smoothing{DF: 2, Strata: math.Inf(1)})
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(16, 1))
	q, from := make([]float64, 15*5), make([]Source, 15)
	for b := range 20 {
		weight := make([]float64, len(s.Entries))
		for range weight {
			weight[random.IntN(len(weight))]++
		}
		told := work.Fit(q, from, weight, readers)
		near := work.value(work.b)
		work.refit(weight, readers, 1e-12, 1000)
		if most := work.value(work.b); !told.Converged || most-near > 0.01 {
			t.Errorf("replicate %d stops %v log units below its maximum after %d steps", b, most-near, told.Iterations)
		}
	}
}

// likelihood is Σ_i n_i log Σ_a q(a | l_i, s_i) T_ia of the live fish at coefficients b.
func (w *TrueSmoothWork) likelihood(b []float64) float64 {
	w.oddsAt(b)
	total, q := 0.0, make([]float64, w.ages)
	for _, c := range w.live {
		p := int(w.cells.value[c])
		w.row(q, int(w.cells.bin[c]), w.effect(c))
		total += w.fish[c] * math.Log(dot(w.likely.t[p*w.ages:(p+1)*w.ages], q))
	}
	return total
}

// value is the likelihood less the penalties.
func (w *TrueSmoothWork) value(b []float64) float64 {
	value := w.likelihood(b)
	for a := w.first; a < w.last; a++ {
		value -= w.cost(w.of(b, a), 0)
	}
	return value
}

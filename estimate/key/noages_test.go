package key

import (
	"math"
	"testing"

	"earstone/reference"
)

// noAgesGolden is what the golden file of years without ages holds.
type noAgesGolden struct {
	Input struct {
		Iterated struct {
			Aged    [][]float64
			KeyYear []float64 `json:"lengths_key_year"`
			Target  []float64 `json:"lengths_target_year"`
		}
		Combined map[string]struct {
			Aged    [][]float64
			Lengths []float64
		}
	}
	Output struct {
		Iterated struct {
			LengthGivenAge [][]float64 `json:"p_length_given_age"`
			Start          []float64   `json:"start_p"`
			After1         []float64   `json:"p_after_1"`
			After5         []float64   `json:"p_after_5"`
			P              []float64
			SE             []float64 `json:"p_se"`
			LogLikelihood  float64   `json:"log_likelihood"`
			Fitted         []float64 `json:"fitted_length_share"`
			Observed       []float64 `json:"observed_length_share"`
			Key            [][]float64
		}
		Combined struct {
			LengthGivenAge [][]float64          `json:"p_length_given_age"`
			P              map[string][]float64 `json:"p_age"`
			LogLikelihood  float64              `json:"log_likelihood"`
			Key            map[string][][]float64
			AfterOne       struct {
				LengthGivenAge [][]float64          `json:"p_length_given_age"`
				P              map[string][]float64 `json:"p_age"`
			} `json:"after_one_step"`
		}
	}
}

func TestIteratedAgainstGolden(t *testing.T) {
	// Golden topic 06, iterated: EM of an independent tool, its limit found again by
	// Newton's method on the multinomial likelihood.
	const tol = 1e-7
	var golden noAgesGolden
	reference.Golden(t, "06-iterated-combined", &golden)
	in, want := golden.Input.Iterated, golden.Output.Iterated
	got, err := Iterated(KeyYear{Lengths: in.KeyYear, Aged: flat(in.Aged)}, in.Target, 4)
	if err != nil {
		t.Fatal(err)
	}
	alike(t, "P(l | a)", got.LengthGivenAge, flat(want.LengthGivenAge), tol)
	alike(t, "start", got.Start, want.Start, tol)
	alike(t, "shares at age", got.Share, want.P, tol)
	alike(t, "SE", got.SE, want.SE, 1e-4) // the golden SE are numerically differentiated
	alike(t, "log-likelihood", []float64{got.LogLikelihood}, []float64{want.LogLikelihood}, 1e-10)
	alike(t, "fitted lengths", got.Fitted, want.Fitted, tol)
	alike(t, "observed lengths", got.Observed, want.Observed, tol)
	alike(t, "key", got.Key, flat(want.Key), tol)

	m := densities(got.LengthGivenAge, 4)
	for l, n := range in.Target {
		m.add(int32(l), n)
	}
	m.pack()
	copy(m.q, got.Start)
	for step := 1; step <= 5; step++ {
		m.step(m.q1, m.q)
		m.q, m.q1 = m.q1, m.q
		if step == 1 {
			alike(t, "shares after one step", m.q, want.After1, 1e-9)
		}
	}
	alike(t, "shares after five steps", m.q, want.After5, 1e-9)
}

func TestSharesOfLinkageCounts(t *testing.T) {
	// Rao's linkage counts, Dempster, Laird & Rubin (1977): printed 0.6268 (from memory);
	// closed form (15 + √53809)/394 = 0.626821497871. Cells (½ + θ/4, (1 − θ)/4, (1 − θ)/4,
	// θ/4) are θ (¾, 0, 0, ¼) + (1 − θ) (½, ¼, ¼, 0).
	const tol = 1e-10
	m := densities([]float64{0.75, 0.5, 0, 0.25, 0, 0.25, 0.25, 0}, 2)
	for l, n := range []float64{125, 18, 20, 34} {
		m.add(int32(l), n)
	}
	share := make([]float64, 2)
	m.fit(share, nil, 1e-9)
	if want := (15 + math.Sqrt(53809)) / 394; math.Abs(share[0]-want) > tol {
		t.Errorf("the linkage counts give %.12f, want %.12f", share[0], want)
	}
}

func TestCombinedAgainstGolden(t *testing.T) {
	// Golden topic 06, combined: EM of an independent tool, its limit found again by
	// Newton's method from a displaced start.
	const tol = 1e-7
	var golden noAgesGolden
	reference.Golden(t, "06-iterated-combined", &golden)
	names := []string{"A", "B", "C"}
	var years []KeyYear
	for _, name := range names {
		y := golden.Input.Combined[name]
		years = append(years, KeyYear{Lengths: y.Lengths, Aged: flat(y.Aged)})
	}
	got, err := Combined(years, 7, 4)
	if err != nil {
		t.Fatal(err)
	}
	want := golden.Output.Combined
	alike(t, "P(l | a)", got.LengthGivenAge, flat(want.LengthGivenAge), tol)
	alike(t, "log-likelihood", []float64{got.LogLikelihood}, []float64{want.LogLikelihood}, 1e-10)
	for i, name := range names {
		alike(t, "shares at age of "+name, got.Share[i], want.P[name], tol)
		alike(t, "key of "+name, got.Key[i], flat(want.Key[name]), tol)
	}

	c := &combination{years: years, bins: 7, ages: 4}
	c.check()
	theta, next := make([]float64, c.size()), make([]float64, c.size())
	for at := range theta {
		theta[at] = 0.25
		if l, a := at/4, at%4; l < 7 {
			theta[at] = 1 + 0.01*float64((a+1)*(l+1))
		}
	}
	c.normalise(theta)
	c.step(next, theta)
	alike(t, "P(l | a) after one step", next, flat(want.AfterOne.LengthGivenAge), 1e-9)
	for i, name := range names {
		alike(t, "shares of "+name+" after one step", next[(7+i)*4:(8+i)*4], want.AfterOne.P[name], 1e-9)
	}
}

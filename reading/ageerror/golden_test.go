package ageerror

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
)

// goldenSet is one data set of golden file 03: readings tabulated or fish by fish.
type goldenSet struct {
	Ages    []int `json:"true_ages"`
	Oldest  int   `json:"oldest_count"`
	Readers []struct {
		SD   string `json:"sd"`
		Bias string `json:"bias"`
	} `json:"readers"`
	Names    []string           `json:"parameter_names"`
	Patterns [][]int16          `json:"patterns"`
	N        []float64          `json:"n"`
	Counts   [][]*int16         `json:"counts"`
	Known    []*int             `json:"known_age"`
	Beta     []float64          `json:"fixed_beta"`
	Fixed    map[string]float64 `json:"fixed_parameters"`
}

type goldenFit struct {
	Fixed float64   `json:"fixed_log_likelihood"`
	Step  []float64 `json:"fixed_beta_after_one_em_step"`
	MLE   struct {
		LogLikelihood float64            `json:"log_likelihood"`
		Fish          float64            `json:"n_fish"`
		K             int                `json:"k"`
		AICc          float64            `json:"aicc"`
		Beta          []float64          `json:"beta"`
		BetaSE        []float64          `json:"beta_se"`
		Parameters    map[string]float64 `json:"parameters"`
		SE            []float64          `json:"parameters_se"`
	} `json:"mle"`
}

var goldenSets = []string{"two_const_cv", "two_curve", "two_line", "three_const_cv_bias", "three_curve", "known_and_missing"}

// golden reads one set of reference/golden/03-ageing-error.json: recomputed with R
// 4.2.2, script reference/golden/make/03-ageing-error.R.
func golden(t testing.TB, name string) (goldenSet, goldenFit) {
	t.Helper()
	var all struct {
		Input  map[string]goldenSet
		Output map[string]goldenFit
	}
	var raw struct {
		Input  map[string]any `json:"input"`
		Output map[string]any `json:"output"`
	}
	reference.Golden(t, "03-ageing-error", &raw)
	all.Input, all.Output = map[string]goldenSet{}, map[string]goldenFit{}
	var in goldenSet
	var out goldenFit
	remarshal(t, raw.Input[name], &in)
	remarshal(t, raw.Output[name], &out)
	return in, out
}

func (g goldenSet) data() Data {
	d := Data{First: g.Ages[0], Ages: len(g.Ages), Oldest: g.Oldest, Readers: len(g.Readers)}
	for i, counts := range g.Patterns {
		d.Patterns = append(d.Patterns, Pattern{Counts: counts, N: g.N[i], Known: -1})
	}
	for i, row := range g.Counts {
		p := Pattern{N: 1, Known: -1}
		for _, c := range row {
			if c == nil {
				p.Counts = append(p.Counts, -1)
			} else {
				p.Counts = append(p.Counts, *c)
			}
		}
		if g.Known[i] != nil {
			p.Known = *g.Known[i]
		}
		d.Patterns = append(d.Patterns, p)
	}
	return d
}

func (g goldenSet) models() []Model {
	sd := map[string]SDForm{"const_cv": ConstantCV, "line": Line, "curve": Curve}
	bias := map[string]BiasForm{"none": NoBias, "proportional": Proportional, "curve": CurveBias}
	var models []Model
	for _, r := range g.Readers {
		models = append(models, Model{sd[r.SD], bias[r.Bias], g.Ages[0], g.Ages[len(g.Ages)-1]})
	}
	return models
}

// theta is parameters by name as the golden file has them ("sd_lo_1"), by reader.
func (g goldenSet) theta(named map[string]float64) [][]float64 {
	theta := make([][]float64, len(g.Readers))
	for r, m := range g.models() {
		for _, name := range m.Names() {
			theta[r] = append(theta[r], named[fmt.Sprintf("%s_%d", name, r+1)])
		}
	}
	return theta
}

// start is a form of the set's models at its fixed point.
func (g goldenSet) start() *climb {
	k := newChoice(g.data(), Settings{}.filled())
	k.apart()
	climb := newClimb(newForm(k.core, k.data.First, g.models()))
	climb.begin(g.Beta, g.theta(g.Fixed))
	return climb
}

func TestGoldenLikelihood(t *testing.T) {
	for _, name := range goldenSets {
		in, want := golden(t, name)
		k := in.start()
		k.prepare(k.now.x)
		next := make([]float64, k.ages)
		const tol = 1e-12 // relative
		if got := k.expect(next, in.Beta); !near(got, want.Fixed, tol) {
			t.Errorf("log-likelihood of %s at fixed parameters = %.15g, want %.15g", name, got, want.Fixed)
		}
		for a, b := range want.Step {
			if !near(next[a], b, tol) {
				t.Errorf("β of age %d of %s after one EM step = %.15g, want %.15g", in.Ages[a], name, next[a], b)
			}
		}
	}
}

func TestGoldenMaximum(t *testing.T) {
	for _, name := range goldenSets[:5] {
		in, out := golden(t, name)
		want := out.MLE
		fit, err := Estimate(in.data(), Settings{Models: in.models()})
		if err != nil {
			t.Errorf("fitting %s: %v", name, err)
			continue
		}
		const tol, tolSE = 1e-6, 1e-4 // relative
		if !near(fit.LogLikelihood, want.LogLikelihood, 1e-10) || !near(fit.AICc, want.AICc, 1e-10) || fit.Parameters != want.K || fit.Fish != want.Fish {
			t.Errorf("%s: log-likelihood %.12g, AICc %.12g, %d parameters, %v fish; want %.12g, %.12g, %d, %v", name,
				fit.LogLikelihood, fit.AICc, fit.Parameters, fit.Fish, want.LogLikelihood, want.AICc, want.K, want.Fish)
		}
		if fit.Differ {
			t.Errorf("%s: starts reached different optima %v, want one", name, fit.Starts)
		}
		i := 0
		for r, theta := range in.theta(want.Parameters) {
			for j, w := range theta {
				if !near(fit.Theta[r][j], w, tol) {
					t.Errorf("%s of reader %d of %s = %.10g, want %.10g", fit.Models[r].Names()[j], r, name, fit.Theta[r][j], w)
				}
				if !near(fit.SE[r][j].X, want.SE[i], tolSE) {
					t.Errorf("SE of %s of reader %d of %s = %.10g, want %.10g", fit.Models[r].Names()[j], r, name, fit.SE[r][j].X, want.SE[i])
				}
				i++
			}
		}
		for a := range want.Beta {
			if !near(fit.Beta[a], want.Beta[a], tol) || !near(fit.BetaSE[a].X, want.BetaSE[a], tolSE) {
				t.Errorf("β of age %d of %s = %.10g ± %.7g, want %.10g ± %.7g", in.Ages[a], name, fit.Beta[a], fit.BetaSE[a].X, want.Beta[a], want.BetaSE[a])
			}
		}
	}
}

func TestGoldenMatrices(t *testing.T) {
	var all struct {
		Output struct {
			Matrices map[string]struct {
				Mean, SD []float64
				Matrix   [][]float64
			}
		}
	}
	reference.Golden(t, "03-ageing-error", &all)
	for _, c := range []struct {
		name  string
		model Model
		theta []float64
	}{
		{"const_cv", Model{ConstantCV, NoBias, 1, 8}, []float64{0.12}},
		{"curve_bias", Model{Curve, CurveBias, 1, 8}, []float64{0.3, 0.9, 0.15, -0.1, 0.6, 0.2}},
		{"line", Model{Line, NoBias, 1, 8}, []float64{0.3, 0.9}},
	} {
		want := all.Output.Matrices[c.name]
		counts := len(want.Matrix[0])
		got := Matrix(make([]float64, 9*counts), c.model, c.theta, 9, counts)
		for i, row := range want.Matrix {
			age := float64(i + 1)
			if mean, sd := age+c.model.BiasAt(c.theta, age), c.model.SDAt(c.theta, age); !near(mean, want.Mean[i], 1e-14) || !near(sd, want.SD[i], 1e-14) {
				t.Errorf("%s at age %v: mean %v, SD %v, want %v, %v", c.name, age, mean, sd, want.Mean[i], want.SD[i])
			}
			for count, w := range row {
				// 2e-12 absolute below that: cells beyond 7.1 SD are 0 here.
				if g := got[(i+1)*counts+count]; math.Abs(g-w) > 2e-12 && !near(g, w, 1e-6) {
					t.Errorf("%s: P(%d | %v) = %v, want %v", c.name, count, age, g, w)
				}
			}
		}
	}
}

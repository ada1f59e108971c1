package origin

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
)

type heldOut struct {
	Matrix       [][]float64 `json:"matrix"`
	LogPosterior float64     `json:"log_score_posterior"`
	LogDensity   float64     `json:"log_score_density"`
	Posterior    []float64   `json:"posterior_of_own"`
}

type classified struct {
	Classes     []string            `json:"classes"`
	Means       [][]float64         `json:"means"`
	Pooled      [][]float64         `json:"pooled_covariance"`
	Covariances [][][]float64       `json:"covariances"`
	ResubPooled [][]float64         `json:"resubstitution_pooled"`
	ResubOwn    [][]float64         `json:"resubstitution_own"`
	PostPooled  [][]float64         `json:"posterior_pooled"`
	PostOwn     [][]float64         `json:"posterior_own"`
	LeaveOneOut map[string]*heldOut `json:"leave_one_out"`
}

type mixedGolden struct {
	After1  []float64 `json:"after_1"`
	After10 []float64 `json:"after_10"`
	Share   []float64 `json:"share"`
	Log     float64   `json:"log_likelihood"`
	SE      []float64 `json:"se_densities_fixed"`
}

type golden struct {
	Output struct {
		Iris, Crabs, Baseline classified
		Mixed                 struct {
			Densities map[string][][]float64 `json:"densities"`
			Mixture   map[string]mixedGolden `json:"mixture"`
			Inside    map[string]mixedGolden `json:"mixture_without_outside"`
			Weighted  struct {
				Own       mixedGolden `json:"own"`
				Effective float64     `json:"effective_sample_size"`
			} `json:"mixture_weighted"`
			Even  [][]float64 `json:"posterior_equal_prior_own"`
			At    [][]float64 `json:"posterior_at_mixture_own"`
			Tails []struct {
				D2Own    []float64 `json:"d2_own"`
				Own      []float64 `json:"p_predictive_own"`
				D2Pooled []float64 `json:"d2_pooled"`
				Pooled   []float64 `json:"p_predictive_pooled"`
			} `json:"tails"`
			Outside []string `json:"outside"`
		} `json:"mixed"`
		Wishart struct {
			Prior struct {
				M0     []float64   `json:"m0"`
				Kappa0 float64     `json:"kappa0"`
				Nu0    float64     `json:"nu0"`
				Psi0   [][]float64 `json:"Psi0"`
			} `json:"prior"`
			Mean     []float64   `json:"mean_n"`
			Kappa    float64     `json:"kappa_n"`
			Nu       float64     `json:"nu_n"`
			Psi      [][]float64 `json:"psi_n"`
			Evidence float64     `json:"log_evidence"`
			DF       float64     `json:"predictive_df"`
			Scale    [][]float64 `json:"predictive_scale"`
			Log      []float64   `json:"log_predictive_of_mixed_fish_1_to_5"`
		} `json:"normal_inverse_wishart"`
	} `json:"output"`
}

// near holds a number against one of golden topic 11, whose tolerance is 1e-8.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(math.Abs(want), 1e-12)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

func nearAll(t testing.TB, what string, got, want []float64, tol float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s has %d numbers, want %d", what, len(got), len(want))
		return
	}
	for i := range want {
		near(t, fmt.Sprintf("%s[%d]", what, i), got[i], want[i], tol)
	}
}

func flat(rows [][]float64) (all []float64) {
	for _, r := range rows {
		all = append(all, r...)
	}
	return all
}

// known makes a problem of a data set whose class is read by name.
func known(t testing.TB, d reference.Table, columns []string, classes []string, class func(i int) string) Problem {
	p := Problem{Nurseries: classes}
	values := make([][]float64, len(columns))
	for j, c := range columns {
		p.Tracers = append(p.Tracers, Tracer{Name: c})
		values[j] = d.Numbers(c)
	}
	for i := range d.Rows {
		b := Baseline{Nursery: -1}
		for k, name := range classes {
			if name == class(i) {
				b.Nursery = k
			}
		}
		for j := range columns {
			b.X = append(b.X, values[j][i])
		}
		p.Baseline = append(p.Baseline, b)
	}
	return p
}

func irises(t testing.TB) Problem {
	d := reference.Data(t, "iris.csv")
	species := d.Text("species")
	return known(t, d, []string{"sepal_length", "sepal_width", "petal_length", "petal_width"},
		[]string{"setosa", "versicolor", "virginica"}, func(i int) string { return species[i] })
}

func crabs(t testing.TB) Problem {
	d := reference.Data(t, "crabs.csv")
	species, sex := d.Text("species"), d.Text("sex")
	return known(t, d, []string{"frontal_lobe", "rear_width", "carapace_length", "carapace_width", "body_depth"},
		[]string{"BF", "BM", "OF", "OM"}, func(i int) string { return species[i] + sex[i] })
}

// invented is the invented baseline, and the invented catch with the weights of stands_for.
func invented(t testing.TB) Problem {
	d := reference.Data(t, "invented_baseline.csv")
	nursery, class := d.Text("nursery"), d.Numbers("year_class")
	p := known(t, d, []string{"d13C", "d18O"}, []string{"Upper", "Lower", "Outer"}, func(i int) string { return nursery[i] })
	for i := range p.Baseline {
		p.Baseline[i].YearClass = int(class[i])
	}
	m := reference.Data(t, "invented_mixed.csv")
	age, weight, c, o := m.Numbers("age"), m.Numbers("stands_for"), m.Numbers("d13C"), m.Numbers("d18O")
	for i := range m.Rows {
		p.Mixed = append(p.Mixed, Mixed{X: []float64{c[i], o[i]}, Age: int(age[i]), Weight: weight[i], Trip: -1})
	}
	return p
}

// itself puts the baseline in the place of the mixed fish.
func itself(p Problem) Problem {
	for _, b := range p.Baseline {
		p.Mixed = append(p.Mixed, Mixed{X: b.X, Weight: 1, Age: -1, Trip: -1})
	}
	return p
}

func estimate(t testing.TB, p Problem, s Settings) *Fit {
	t.Helper()
	f, err := Estimate(p, s)
	if err != nil {
		t.Fatalf("estimating origin: %v", err)
	}
	return f
}

func TestClassificationOfPublicAndInventedSets(t *testing.T) {
	var g golden
	reference.Golden(t, "11-origin", &g)
	for _, c := range []struct {
		name string
		p    Problem
		want classified
	}{{"irises", irises(t), g.Output.Iris}, {"crabs", crabs(t), g.Output.Crabs}, {"invented baseline", invented(t), g.Output.Baseline}} {
		c.p.Mixed = nil
		p := itself(c.p)
		for form, w := range map[Form]*heldOut{Pooled: c.want.LeaveOneOut["pooled"], Own: c.want.LeaveOneOut["own"], Kernel: c.want.LeaveOneOut["kernel_full"]} {
			what := fmt.Sprintf("%s, %v", c.name, form)
			f := estimate(t, p, Settings{Form: form, PoolYears: true, KeepOutside: true})
			nearAll(t, what+": means", f.Mean, flat(c.want.Means), 1e-8)
			nearAll(t, what+": held-out table", f.Held.Called, flat(w.Matrix), 0)
			near(t, what+": log posterior held out", f.Held.LogPosterior, w.LogPosterior, 1e-8)
			near(t, what+": log density held out", f.Held.LogDensity, w.LogDensity, 1e-8)
			if w.Posterior != nil {
				nearAll(t, what+": posterior held out", f.Held.Posterior, w.Posterior, 1e-8)
			}
			resubstitution, posteriors := c.want.ResubPooled, c.want.PostPooled
			if form == Pooled {
				nearAll(t, what+": covariance", f.Covariance[:len(flat(c.want.Pooled))], flat(c.want.Pooled), 1e-8)
			} else {
				for k, s := range c.want.Covariances {
					nearAll(t, what+": covariance", f.Covariance[k*len(flat(s)):(k+1)*len(flat(s))], flat(s), 1e-8)
				}
				resubstitution, posteriors = c.want.ResubOwn, c.want.PostOwn
			}
			if form == Kernel {
				continue
			}
			called := make([]float64, len(c.p.Nurseries)*len(c.p.Nurseries))
			for i, b := range p.Baseline {
				called[b.Nursery*len(p.Nurseries)+largest(f.Fish[i].Even)]++
				if posteriors != nil {
					nearAll(t, what+": posterior", f.Fish[i].Even, posteriors[i], 1e-8)
				}
			}
			nearAll(t, what+": resubstitution", called, flat(resubstitution), 0)
		}
	}
}

func TestMixturesOfInventedCatch(t *testing.T) {
	var g golden
	reference.Golden(t, "11-origin", &g)
	want := g.Output.Mixed
	p := invented(t)
	for form, name := range map[Form]string{Pooled: "pooled", Own: "own", Kernel: "kernel_full"} {
		f := estimate(t, p, Settings{Form: form, PoolYears: true, KeepOutside: true})
		for i, fish := range f.Fish {
			for k, l := range fish.LogDensity {
				if d := want.Densities[name][i][k]; d > 1e-300 {
					near(t, fmt.Sprintf("density of fish %d, %s, nursery %d", i, name, k), l, math.Log(d), 1e-8)
				}
			}
		}
		m, w := f.Unweighted, want.Mixture[name]
		nearAll(t, name+": shares", m.Share, w.Share, 1e-8)
		nearAll(t, name+": SE", m.SE, w.SE, 1e-7)
		near(t, name+": log-likelihood", m.LogLikelihood, w.Log, 1e-8)
		if !m.Converged || m.Fish != 150 || m.Effective != 150 {
			t.Errorf("%s: converged %v on %d fish worth %v, want 150 of each", name, m.Converged, m.Fish, m.Effective)
		}
	}
	f := estimate(t, p, Settings{Form: Own, PoolYears: true, KeepOutside: true})
	steps := f.mixtureOf(func(int) float64 { return 1 })
	share, next := []float64{1. / 3, 1. / 3, 1. / 3}, make([]float64, 3)
	for i := range 10 {
		steps.step(next, share)
		copy(share, next)
		if i == 0 {
			nearAll(t, "shares after 1 step", share, want.Mixture["own"].After1, 1e-8)
		}
	}
	nearAll(t, "shares after 10 steps", share, want.Mixture["own"].After10, 1e-8)

	nearAll(t, "weighted shares", f.Composition.Share, want.Weighted.Own.Share, 1e-8)
	near(t, "effective sample", f.Composition.Effective, want.Weighted.Effective, 1e-8)
	for k, se := range want.Weighted.Own.SE { // golden weights sum to 150 and ours to the effective sample
		near(t, "weighted SE", f.Composition.SE[k], se*math.Sqrt(150/want.Weighted.Effective), 1e-7)
	}
	for i := range f.Fish {
		nearAll(t, "posterior, equal shares", f.Fish[i].Even, want.Even[i], 1e-8)
		unweighted := make([]float64, 3)
		posterior(unweighted, f.Fish[i].LogDensity, f.Unweighted.Share)
		nearAll(t, "posterior at the mixture", unweighted, want.At[i], 1e-7)
	}
	inside := estimate(t, p, Settings{Form: Own, PoolYears: true})
	nearAll(t, "shares without outsiders", inside.Unweighted.Share, want.Inside["own"].Share, 1e-8)
}

func TestTailsOfInventedCatch(t *testing.T) {
	var g golden
	reference.Golden(t, "11-origin", &g)
	want := g.Output.Mixed
	own := estimate(t, invented(t), Settings{Form: Own, PoolYears: true})
	pooled := estimate(t, invented(t), Settings{Form: Pooled, PoolYears: true})
	names := reference.Data(t, "invented_mixed.csv").Text("fish")
	var outside []string
	for i := range own.Fish {
		for k, w := range want.Tails {
			n := []float64{66, 54, 42}[k]
			near(t, "own D²", own.Fish[i].D2[k]*(n+1)/n, w.D2Own[i], 1e-8)
			near(t, "own tail", own.Fish[i].Tail[k], w.Own[i], 1e-7)
			near(t, "pooled D²", pooled.Fish[i].D2[k]*(n+1)/n, w.D2Pooled[i], 1e-8)
			near(t, "pooled tail", pooled.Fish[i].Tail[k], w.Pooled[i], 1e-7)
		}
		if own.Fish[i].Call == Outside {
			outside = append(outside, names[i])
		}
	}
	if fmt.Sprint(outside) != fmt.Sprint(want.Outside) || own.Outsiders != 3 {
		t.Errorf("outside the baseline are %v (%d), want %v", outside, own.Outsiders, want.Outside)
	}
}

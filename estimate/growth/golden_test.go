package growth

import (
	"math"
	"testing"

	"earstone/programme/record"
	"earstone/reference"
	"earstone/statistics/optimise"
)

// golden is what the tests of this package want of golden topic 08.
type golden struct {
	Input struct {
		Schnute_tau []float64
		Conditional struct{ Ages, P_age, Age, Length []float64 }
	}
	Output struct {
		Fits map[string]map[string]struct {
			Estimates                            map[string]float64
			SE_observed_information, SE_nls      map[string]float64
			Log_likelihood, AICc, Sigma_unbiased float64
			K                                    int
		}
		Profile_Linf struct {
			Level                 float64
			Likelihood_chi_square []float64
		}
		Groups []struct {
			By_group             []string
			Log_likelihood, AICc float64
			Count                int       `json:"k"`
			Rate                 []float64 `json:"K"`
			Linf, T0             []float64
		}
		Group_test struct {
			Statistic, P float64
			DF           int
		}
		Weighted struct {
			Estimates   map[string]float64
			Sigma       float64
			SE_sandwich []float64
		}
		Conditional struct {
			Fixed_log_likelihood, Log_likelihood float64
			Estimates, SE                        map[string]float64
		}
		Public map[string]struct {
			Estimates, SE_nls                         map[string]float64
			Sigma_unbiased, RSS, Log_likelihood, AICc float64
			N                                         float64
		}
		Random_asymptote_orange struct {
			Fixed                                map[string]float64
			SD_Linf, SD_residual, Log_likelihood float64
		}
	}
}

func goldenGrowth(t testing.TB) (g golden) {
	t.Helper()
	reference.Golden(t, "08-growth", &g)
	return g
}

// invented are the invented fish of golden topic 08, with groups F 0 and M 1.
func invented(t testing.TB) (d Data, inclusion []float64) {
	t.Helper()
	table := reference.Data(t, "invented_growth.csv")
	d = Data{Age: table.Numbers("age"), Length: table.Numbers("length_cm")}
	for _, g := range table.Text("group") {
		d.Group = append(d.Group, map[string]int{"F": 0, "M": 1}[g])
	}
	return d, table.Numbers("inclusion")
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// leastSquaresSE are standard errors of constant SD from the expected
// information with the unbiased variance RSS/(n − p).
func leastSquaresSE(t testing.TB, f Fit) (se []float64, sigma float64) {
	t.Helper()
	k, size := f.likelihood, f.layout.n+1
	info := make([]float64, size*size)
	k.look(f.x)
	k.information(info, f.Scale)
	cov, err := optimise.Covariance(info)
	if err != nil {
		t.Fatal(err)
	}
	factor := f.Fish / (f.Fish - float64(f.layout.n))
	for i := range f.layout.n {
		se = append(se, math.Sqrt(cov[i*size+i]*factor))
	}
	return se, f.Scale * math.Sqrt(factor)
}

func TestFitsAreGolden(t *testing.T) {
	// Source: recomputed, R 4.2.2 nls, optim and numDeriv, golden topic 08.
	const tol, tolSE = 1e-6, 1e-4
	g := goldenGrowth(t)
	d, _ := invented(t)
	d.Group = nil
	fits := 0
	for _, m := range Models() {
		for _, s := range Scatters() {
			want, ok := g.Output.Fits[m.String()][s.String()]
			if !ok {
				continue
			}
			fits++
			name := m.String() + " " + s.String()
			f, err := FitCurve(d, Settings{Model: m, Scatter: s, Tau1: g.Input.Schnute_tau[0], Tau2: g.Input.Schnute_tau[1]})
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			near(t, name+" log-likelihood", f.LogLikelihood, want.Log_likelihood, 1e-10)
			near(t, name+" AICc", f.AICc.X, want.AICc, 1e-10)
			near(t, name+" scale", f.Scale, want.Estimates["scale"], tol)
			near(t, name+" SE of scale", f.ScaleSE().X, want.SE_observed_information["scale"], tolSE)
			if f.Parameters != want.K || f.Fish != 256 {
				t.Errorf("%s has %d parameters of %v fish, want %d of 256", name, f.Parameters, f.Fish, want.K)
			}
			var nls []float64
			if want.SE_nls != nil {
				var sigma float64
				nls, sigma = leastSquaresSE(t, f)
				near(t, name+" unbiased SD", sigma, want.Sigma_unbiased, tol)
			}
			for i, p := range m.Parameters() {
				near(t, name+" "+p, f.Estimates[i], want.Estimates[p], tol)
				near(t, name+" SE of "+p, f.SE(0, i).X, want.SE_observed_information[p], tolSE)
				if nls != nil {
					near(t, name+" least-squares SE of "+p, nls[i], want.SE_nls[p], tolSE)
				}
			}
		}
	}
	if fits != 18 {
		t.Errorf("%d fits were held against the golden file, want 18", fits)
	}
}

func TestWeightedFitIsGolden(t *testing.T) {
	want := goldenGrowth(t).Output.Weighted
	d, inclusion := invented(t)
	d.Group = nil
	for _, p := range inclusion {
		d.Weight = append(d.Weight, 1/p)
	}
	f, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "SD", f.Scale, want.Sigma, 1e-6)
	for i, p := range f.Curve.Model.Parameters() {
		near(t, p, f.Estimates[i], want.Estimates[p], 1e-6)
		near(t, "sandwich SE of "+p, f.SE(0, i).X, want.SE_sandwich[i], 1e-6)
	}
	if !f.Designed || f.AICc.Known {
		t.Errorf("a weighted fit says Designed %v and AICc %v, want true and unknown", f.Designed, f.AICc)
	}
}

func TestPublicDataAreGolden(t *testing.T) {
	want := goldenGrowth(t).Output.Public
	chick := reference.Data(t, "chickweight.csv")
	var first Data
	for i, name := range chick.Text("chick") {
		if name == "1" {
			first.Age, first.Length = append(first.Age, chick.Numbers("time")[i]), append(first.Length, chick.Numbers("weight")[i])
		}
	}
	orange, pine := reference.Data(t, "orange.csv"), reference.Data(t, "loblolly.csv")
	trees, pines := Data{Age: orange.Numbers("age"), Length: orange.Numbers("circumference")}, Data{Age: pine.Numbers("age"), Length: pine.Numbers("height")}
	sets := 0
	for _, c := range []struct {
		name string
		d    Data
		m    Model
	}{
		{"orange_logistic", trees, Logistic}, {"loblolly_von_bertalanffy", pines, VonBertalanffy}, {"loblolly_gompertz", pines, Gompertz},
		{"loblolly_richards", pines, Richards}, {"chick1_logistic", first, Logistic},
	} {
		sets++
		w := want[c.name]
		f, err := FitCurve(c.d, Settings{Model: c.m})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		se, sigma := leastSquaresSE(t, f)
		near(t, c.name+" unbiased SD", sigma, w.Sigma_unbiased, 1e-6)
		near(t, c.name+" RSS", f.Scale*f.Scale*f.Fish, w.RSS, 1e-9)
		near(t, c.name+" log-likelihood", f.LogLikelihood, w.Log_likelihood, 1e-10)
		near(t, c.name+" AICc", f.AICc.X, w.AICc, 1e-10)
		near(t, c.name+" n", f.Fish, w.N, 0)
		for i, p := range c.m.Parameters() {
			near(t, c.name+" "+p, f.Estimates[i], w.Estimates[p], 1e-6)
			near(t, c.name+" SE of "+p, se[i], w.SE_nls[p], 1e-5)
		}
	}
	if sets != len(want) {
		t.Errorf("%d public sets were tried, the golden file has %d", sets, len(want))
	}
}

func TestCertifiedRegressions(t *testing.T) {
	// Source: printed, NIST StRD certified values, check-values section 7. Rat43 is
	// b1/(1 + e^{b2 − b3 x})^{1/b4}: m = 1 + b4, ti = (b2 − log b4)/b3.
	const tol = 1e-6 // six digits
	zero := []record.Number{{}, {}, record.Some(0)}
	rat43 := func(b1, b2, b3, b4 float64) []float64 { return []float64{b1, b3, (b2 - math.Log(b4)) / b3, 1 + b4} }
	for _, c := range []struct {
		set    string
		model  Model
		hold   []record.Number
		starts [][]float64
		b      []float64
		se     []float64 // NaN: of a parameter that is written otherwise there
		sd     float64
	}{
		{"nist-rat42.csv", Logistic, nil, [][]float64{{100, 0.1, 10}, {75, 0.07, 2.5 / 0.07}},
			[]float64{7.2462237576e+01, 6.7359200066e-02, 2.6180768402 / 6.7359200066e-02}, []float64{1.7340283401, 3.4465663377e-03, math.NaN()}, 1.1587725499},
		{"nist-rat43.csv", Richards, nil, [][]float64{rat43(100, 10, 1, 1), rat43(700, 5, 0.75, 1.3)},
			rat43(6.9964151270e+02, 5.2771253025, 7.5962938329e-01, 1.2792483859), []float64{1.6302297817e+01, 1.9566123451e-01, math.NaN(), 6.8761936385e-01}, 2.8262414662e+01},
		{"nist-boxbod.csv", VonBertalanffy, zero, [][]float64{{1, 1, 0}, {100, 0.75, 0}},
			[]float64{2.1380940889e+02, 5.4723748542e-01, 0}, []float64{1.2354515176e+01, 1.0455993237e-01}, 1.7088072423e+01},
		{"nist-misra1a.csv", VonBertalanffy, zero, [][]float64{{500, 0.0001, 0}, {250, 0.0005, 0}},
			[]float64{2.3894212918e+02, 5.5015643181e-04, 0}, []float64{2.7070075241, 7.2668688436e-06}, 1.0187876330e-01},
	} {
		table := reference.Published(t, c.set)
		for _, start := range append(c.starts, nil) { // and from the package's own starts
			f, err := FitCurve(Data{Age: table.Numbers("x"), Length: table.Numbers("y")}, Settings{Model: c.model, Hold: c.hold, Start: start})
			if err != nil {
				t.Errorf("%s from %v: %v", c.set, start, err)
				continue
			}
			se, sd := leastSquaresSE(t, f)
			near(t, c.set+" residual SD", sd, c.sd, tol)
			for i, b := range c.b {
				near(t, c.set+" "+c.model.Parameters()[i], f.Estimates[i], b, tol)
				if i < len(c.se) && !math.IsNaN(c.se[i]) {
					near(t, c.set+" SE of "+c.model.Parameters()[i], se[i], c.se[i], tol)
				}
			}
		}
	}
}

func TestProfileIsGolden(t *testing.T) {
	want := goldenGrowth(t).Output.Profile_Linf
	d, _ := invented(t)
	d.Group = nil
	f, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	low, high, err := f.Profile(0, 0, want.Level)
	if err != nil || !low.Known || !high.Known {
		t.Fatalf("profile of Linf: %v, %v, %v", low, high, err)
	}
	near(t, "low end of Linf", low.X, want.Likelihood_chi_square[0], 1e-6)
	near(t, "high end of Linf", high.X, want.Likelihood_chi_square[1], 1e-6)
}

func TestGroupsAreGolden(t *testing.T) {
	g := goldenGrowth(t)
	d, _ := invented(t)
	c, err := Compare(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Cases) != 8 || len(g.Output.Groups) != 8 {
		t.Fatalf("%d cases, want the %d of the golden file, 8", len(c.Cases), len(g.Output.Groups))
	}
	best := 0
	for i, want := range g.Output.Groups {
		got := c.Cases[i]
		if got.Err != nil {
			t.Errorf("case %v: %v", want.By_group, got.Err)
			continue
		}
		apart := 0
		for j, name := range []string{"Linf", "K", "t0"} {
			if got.Apart[j] {
				apart++
			}
			for _, by := range want.By_group {
				if by == name && !got.Apart[j] {
					t.Errorf("case %d holds %s common, want it apart", i, name)
				}
			}
		}
		if apart != len(want.By_group) || got.Fit.Parameters != want.Count {
			t.Errorf("case %v has %d parameters apart, %d in all, want %d in all", want.By_group, apart, got.Fit.Parameters, want.Count)
		}
		near(t, "log-likelihood", got.Fit.LogLikelihood, want.Log_likelihood, 1e-10)
		near(t, "AICc", got.Fit.AICc.X, want.AICc, 1e-10)
		for group := range 2 {
			near(t, "Linf", got.Fit.Estimates[group*3], want.Linf[group], 1e-6)
			near(t, "K", got.Fit.Estimates[group*3+1], want.Rate[group], 1e-6)
			near(t, "t0", got.Fit.Estimates[group*3+2], want.T0[group], 1e-6)
		}
		if want.AICc < g.Output.Groups[best].AICc {
			best = i
		}
	}
	if c.Best != best {
		t.Errorf("the best case is %d, want %d", c.Best, best)
	}
	test, ok := c.Test(0, 7)
	near(t, "χ² of all apart", test.ChiSquare, g.Output.Group_test.Statistic, 1e-8)
	near(t, "p of all apart", test.P, g.Output.Group_test.P, 1e-6)
	if !ok || test.DF != g.Output.Group_test.DF {
		t.Errorf("the test has %d df (%v), want %d", test.DF, ok, g.Output.Group_test.DF)
	}
}

func TestConditionalIsGolden(t *testing.T) {
	g := goldenGrowth(t)
	in, want := g.Input.Conditional, g.Output.Conditional
	d, ages := Data{Age: in.Age, Length: in.Length}, Ages{in.Ages, in.P_age}
	f, err := FitConditional(d, ages, Settings{Scatter: ConstantCV})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "log-likelihood", f.LogLikelihood, want.Log_likelihood, 1e-10)
	near(t, "CV", f.Scale, want.Estimates["cv"], 1e-6)
	near(t, "SE of CV", f.ScaleSE().X, want.SE["cv"], 1e-4)
	for i, p := range f.Curve.Model.Parameters() {
		near(t, p, f.Estimates[i], want.Estimates[p], 1e-6)
		near(t, "SE of "+p, f.SE(0, i).X, want.SE[p], 1e-4)
	}
	c := newConditional(d, ages)
	c.layout, c.scatter, c.p, c.slope = f.layout, ConstantCV, make([]float64, 3), make([]float64, 36)
	near(t, "log-likelihood of the parameters given", -c.at([]float64{240, 0.18, -0.7, math.Log(0.08)}, nil), want.Fixed_log_likelihood, 1e-12)
}

func TestRandomAsymptoteIsGolden(t *testing.T) {
	want := goldenGrowth(t).Output.Random_asymptote_orange
	table := reference.Data(t, "orange.csv")
	tree := make([]int, table.Rows)
	for i, x := range table.Numbers("tree") {
		tree[i] = int(x) - 1
	}
	f, err := FitRandom(Data{Age: table.Numbers("age"), Length: table.Numbers("circumference")}, tree, Settings{Model: Logistic})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Linf", f.Estimates[0], want.Fixed["Linf"], 1e-6)
	near(t, "1/K", 1/f.Estimates[1], want.Fixed["scale"], 1e-6)
	near(t, "ti", f.Estimates[2], want.Fixed["ti"], 1e-6)
	near(t, "SD of Linf", f.AsymptoteSD.X, want.SD_Linf, 1e-6)
	near(t, "residual SD", f.Scale, want.SD_residual, 1e-6)
	near(t, "log-likelihood", f.LogLikelihood, want.Log_likelihood, 1e-10)
	if se := f.AsymptoteSE(); f.Fish != 5 || f.Parameters != 5 || !se.Known || !(se.X > 5 && se.X < 20) { // τ/√(2·5) = 10
		t.Errorf("%v trees, %d parameters, SE of the SD %v; want 5, 5 and about 10", f.Fish, f.Parameters, se)
	}
}

func TestHakeBySex(t *testing.T) {
	// Table and tests: Kimura (1980), Fish. Bull. 77:765-776, from memory; values
	// recomputed, check-values section 7: RSS and n log(RSS/RSS0), n = 24.
	table := reference.Published(t, "hake-kimura-1980.csv")
	d := Data{Age: table.Numbers("age"), Length: table.Numbers("length_cm")}
	for _, sex := range table.Text("sex") {
		d.Group = append(d.Group, map[string]int{"female": 0, "male": 1}[sex])
	}
	c, err := Compare(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	all := c.Cases[7].Fit
	near(t, "RSS of all apart", all.Scale*all.Scale*24, 48.22376558, 1e-9)
	for i, want := range []float64{61.233300277, 0.296253257, -0.057264407, 55.978011352, 0.385584450, 0.171338806} {
		near(t, "estimate", all.Estimates[i], want, 1e-6)
	}
	for _, w := range []struct {
		name   string
		narrow int
		rss, x float64
		df     int
	}{
		{"Linf common", 6, 71.6021154, 9.4865438, 1}, {"K common", 5, 56.33678503, 3.7318977, 1},
		{"t0 common", 3, 50.75774739, 1.2290953, 1}, {"all common", 0, 79.76451556, 12.0774426, 3},
	} {
		narrow := c.Cases[w.narrow].Fit
		near(t, "RSS with "+w.name, narrow.Scale*narrow.Scale*24, w.rss, 1e-8)
		test, ok := c.Test(w.narrow, 7)
		near(t, "χ² of "+w.name, test.ChiSquare, w.x, 1e-6)
		if !ok || test.DF != w.df {
			t.Errorf("%s has %d df (%v), want %d", w.name, test.DF, ok, w.df)
		}
	}
}

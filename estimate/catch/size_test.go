package catch

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"earstone/reference"
)

// designGolden is what golden topic 15 holds.
type designGolden struct {
	Output struct {
		Strat      designFigures `json:"apistrat"`
		StratPlain designFigures `json:"apistrat_no_fpc"`
		Clus       designFigures `json:"apiclus1"`
		ClusPlain  designFigures `json:"apiclus1_no_fpc"`
		TwoStage   struct {
			Mean    float64 `json:"mean_api00"`
			SE      float64
			Total   float64 `json:"total_enroll"`
			TotalSE float64 `json:"total_se"`
		} `json:"apiclus2_two_stage"`
		Trips struct {
			Stratum       string
			Trips, Fish   float64
			FishByTrip    []float64 `json:"fish_by_trip"`
			Correlation   float64   `json:"intra_trip_correlation"`
			Mean          float64   `json:"mean_length"`
			SE            float64   `json:"se_mean_length"`
			Simple        float64   `json:"variance_if_simple_random"`
			Effect        float64   `json:"design_effect"`
			EffectiveFish float64   `json:"effective_fish"`
			WeightsSize   float64   `json:"weights_effective_n"`
			Bins, Share   []float64
			ShareVariance []float64 `json:"share_variance"`
			Composition   float64   `json:"composition_effective_n"`
			CompositionDE float64   `json:"composition_design_effect"`
		}
		Kish struct {
			W           []float64
			EffectiveN  float64 `json:"effective_n"`
			FromOneFish float64 `json:"from_normalised"`
		} `json:"kish_weights"`
	}
}

type designFigures struct {
	Mean, SE  []float64
	Effect    []float64   `json:"deff_replace"`
	Effective []float64   `json:"effective_n"`
	Ratio     float64     `json:"ratio_api00_api99"`
	RatioSE   float64     `json:"ratio_se"`
	Total     float64     `json:"total_enroll"`
	TotalSE   float64     `json:"total_se"`
	Share     []float64   `json:"share_by_stype"`
	ShareCov  [][]float64 `json:"share_vcov"`
}

// sample is a sample of schools: weights, the groups within which units are drawn (rows
// by unit), and by group the share of its units that was sampled.
type sample struct {
	reference.Table
	w      []float64
	unit   []int     // by row
	units  int       //
	groups [][]int32 // units by group
	taken  []float64 // by group; 0: no finite population correction
}

// schools of one stage: unit names the column of the units (empty: each row its own),
// stratum that of the groups (empty: one group).
func schools(t *testing.T, file, unit, stratum string, corrected bool) sample {
	t.Helper()
	s := sample{Table: reference.Data(t, file)}
	s.w = s.Numbers("pw")
	units, groups := map[string]int{}, map[string]int{}
	fpc := s.Numbers("fpc")
	for row := range s.Rows {
		name := string(rune(row))
		if unit != "" {
			name = s.Text(unit)[row]
		}
		u, seen := units[name]
		if !seen {
			u = len(units)
			units[name] = u
			group := ""
			if stratum != "" {
				group = s.Text(stratum)[row]
			}
			h, known := groups[group]
			if !known {
				h = len(groups)
				groups[group] = h
				s.groups, s.taken = append(s.groups, nil), append(s.taken, fpc[row])
			}
			s.groups[h] = append(s.groups[h], int32(u))
		}
		s.unit = append(s.unit, u)
	}
	s.units = len(units)
	for h, size := range s.taken {
		if s.taken[h] = 0; corrected {
			s.taken[h] = float64(len(s.groups[h])) / size
		}
	}
	return s
}

// covariance of k sums of z (rows × k) over units: TripCovariance group by group, each
// times 1 − n/N.
func (s *sample) covariance(z []float64, k int) []float64 {
	byUnit := make([]float64, s.units*k)
	for row, u := range s.unit {
		for a := range k {
			byUnit[u*k+a] += z[row*k+a]
		}
	}
	total := make([]float64, k*k)
	for h, group := range s.groups {
		part := make([]float64, k*k)
		TripCovariance(part, byUnit, [][]int32{group})
		for i := range total {
			total[i] += (1 - s.taken[h]) * part[i]
		}
	}
	return total
}

func (s *sample) se(z []float64) float64 { return math.Sqrt(s.covariance(z, 1)[0]) }

// ratioOf is Σwy/Σwx and its linearised values w(y − Rx)/Σwx.
func ratioOf(w, y, x []float64) (r float64, z []float64) {
	top, bottom := 0.0, 0.0
	for i := range w {
		top += w[i] * y[i]
		bottom += w[i] * x[i]
	}
	r = top / bottom
	for i := range w {
		z = append(z, w[i]*(y[i]-r*x[i])/bottom)
	}
	return r, z
}

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }

// Source: recomputed, golden/15-design-effect.json, R 4.2.2 with package survey.
func TestGoldenDesigns(t *testing.T) {
	var g designGolden
	reference.Golden(t, "15-design-effect", &g)
	for _, c := range []struct {
		what string
		s    sample
		want designFigures
	}{
		{"strata", schools(t, "apistrat.csv", "", "stype", true), g.Output.Strat},
		{"strata, no finite correction", schools(t, "apistrat.csv", "", "stype", false), g.Output.StratPlain},
		{"clusters", schools(t, "apiclus1.csv", "dnum", "", true), g.Output.Clus},
		{"clusters, no finite correction", schools(t, "apiclus1.csv", "dnum", "", false), g.Output.ClusPlain},
	} {
		s, want, n := c.s, c.want, float64(c.s.Rows)
		for i, column := range []string{"api00", "enroll"} {
			y := s.Numbers(column)
			mean, z := ratioOf(s.w, y, ones(s.Rows))
			variance := s.covariance(z, 1)[0]
			holdOne(t, c.what+", mean of "+column, mean, want.Mean[i])
			hold8(t, c.what+", SE of "+column, math.Sqrt(variance), want.SE[i])
			squares, all := 0.0, 0.0
			for row, w := range s.w {
				squares += w * (y[row] - mean) * (y[row] - mean)
				all += w
			}
			simple := squares / all / (n - 1)
			hold8(t, c.what+", design effect of "+column, variance/simple, want.Effect[i])
			hold8(t, c.what+", effective schools of "+column, n/(variance/simple), want.Effective[i])
		}
		r, z := ratioOf(s.w, s.Numbers("api00"), s.Numbers("api99"))
		holdOne(t, c.what+", ratio", r, want.Ratio)
		hold8(t, c.what+", SE of the ratio", s.se(z), want.RatioSE)
		total, enrolled := 0.0, make([]float64, s.Rows)
		for row, y := range s.Numbers("enroll") {
			enrolled[row] = s.w[row] * y
			total += enrolled[row]
		}
		holdOne(t, c.what+", total", total, want.Total)
		hold8(t, c.what+", SE of the total", s.se(enrolled), want.TotalSE)
		c.s.shares(t, c.what, want)
	}
}

// shares of the kinds of school and their covariance, once by linearised values and once
// by ShareCovariance from the covariance of the totals.
func (s *sample) shares(t *testing.T, what string, want designFigures) {
	t.Helper()
	kinds := []string{"E", "H", "M"}
	k := len(kinds)
	share, z, totals, numbers := make([]float64, k), make([]float64, s.Rows*k), make([]float64, s.Rows*k), make([]float64, k)
	for a, kind := range kinds {
		is := make([]float64, s.Rows)
		for row, text := range s.Text("stype") {
			if text == kind {
				is[row] = 1
				totals[row*k+a] = s.w[row]
				numbers[a] += s.w[row]
			}
		}
		var one []float64
		share[a], one = ratioOf(s.w, is, ones(s.Rows))
		for row := range one {
			z[row*k+a] = one[row]
		}
	}
	hold(t, what+", shares by kind", share, want.Share)
	for route, covariance := range map[string][]float64{
		"linearised": s.covariance(z, k), "by the delta method": ShareCovariance(numbers, s.covariance(totals, k))} {
		for i, v := range covariance {
			// A stratum's own share has no variance: what rounding leaves of 1 is none.
			if w := want.ShareCov[i/k][i%k]; math.Abs(v-w) > 1e-8*math.Abs(w)+1e-18 {
				t.Errorf("%s, covariance of the shares %s, place %d = %.12g, want %.12g", what, route, i, v, w)
			}
		}
	}
}

func hold8(t *testing.T, what string, got, want float64) {
	t.Helper()
	if tol := 1e-8; math.Abs(got-want) > tol*math.Abs(want) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// Districts, then schools within districts: the first stage with its correction, and the
// second within each district times the share of districts that was sampled.
func TestGoldenTwoStages(t *testing.T) {
	var g designGolden
	reference.Golden(t, "15-design-effect", &g)
	d := reference.Data(t, "apiclus2.csv")
	districts, of := map[string]int{}, make([]int, d.Rows)
	var second [][]int32
	for row, name := range d.Text("dnum") {
		u, seen := districts[name]
		if !seen {
			u = len(districts)
			districts[name] = u
			second = append(second, nil)
		}
		of[row] = u
		second[u] = append(second[u], int32(row))
	}
	n, fpc1, fpc2 := float64(len(second)), d.Numbers("fpc1"), d.Numbers("fpc2")
	w := make([]float64, d.Rows)
	for row := range w {
		w[row] = fpc1[row] / n * fpc2[row] / float64(len(second[of[row]]))
	}
	taken := n / fpc1[0]
	se := func(z []float64) float64 {
		first, all := make([]float64, len(second)), make([]int32, len(second))
		for row, u := range of {
			first[u] += z[row]
			all[u] = int32(u)
		}
		variance := []float64{0}
		TripCovariance(variance, first, [][]int32{all})
		total := (1 - taken) * variance[0]
		for _, rows := range second {
			variance[0] = 0
			TripCovariance(variance, z, [][]int32{rows})
			total += taken * (1 - float64(len(rows))/fpc2[rows[0]]) * variance[0]
		}
		return math.Sqrt(total)
	}
	mean, z := ratioOf(w, d.Numbers("api00"), ones(d.Rows))
	want := g.Output.TwoStage
	holdOne(t, "mean of two stages", mean, want.Mean)
	hold8(t, "its SE", se(z), want.SE)
	total, enrolled := 0.0, make([]float64, d.Rows)
	for row, text := range d.Text("enroll") {
		if text == "" { // a school of unknown size adds nothing and stays drawn
			continue
		}
		enrolled[row] = w[row] * number(t, text)
		total += enrolled[row]
	}
	holdOne(t, "total of two stages", total, want.Total)
	hold8(t, "its SE", se(enrolled), want.TotalSE)
}

func TestGoldenTripsAreClusters(t *testing.T) {
	var g designGolden
	reference.Golden(t, "15-design-effect", &g)
	want := g.Output.Trips
	catches := readCatch(t)
	d, _, _ := catches.season(t)
	s := slices.Index(catches.Input.Strata.Stratum, want.Stratum)
	fish := make([]float64, len(d.Trips))
	var weights []float64
	for i, trip := range d.Strata[s].Trips {
		fish[trip] = want.FishByTrip[i]
		for range int(want.FishByTrip[i]) {
			weights = append(weights, d.Trips[trip].Landed/want.FishByTrip[i])
		}
	}
	alike, ok := d.AlikeIn(s, fish)
	if !ok {
		t.Fatal("five trips tell nothing of how alike their fish are")
	}
	hold8(t, "intra-trip correlation", alike.Correlation, want.Correlation)
	hold8(t, "design effect", alike.DesignEffect, want.Effect)
	hold8(t, "effective fish", alike.EffectiveFish, want.EffectiveFish)
	hold8(t, "variance of the mean length", alike.DesignEffect*want.Simple, want.SE*want.SE)
	hold8(t, "effective size of the weights", WeightedSize(weights), want.WeightsSize)

	// A key that ages each bin as itself makes shares at age of shares by length.
	k := d.Bins
	q := make([]float64, d.KeyStrata*k*k)
	for at := range d.KeyStrata * k {
		q[at*k+at%k] = 1
	}
	d.Ages = k
	d.Strata = slices.Clone(d.Strata)
	d.Strata[s].Number = 1
	variance := diagonal(d.Covariance([]int32{int32(s)}, q, make([]KeyCell, d.KeyStrata*k)).Trips)
	p := make([]float64, k)
	d.LengthShares(p, s, nil)
	var share, varied []float64
	for l, lower := range catches.Input.Bins {
		if slices.Contains(want.Bins, lower) {
			share, varied = append(share, p[l]), append(varied, variance[l])
		} else if p[l] != 0 {
			t.Errorf("the share of bin %v is %v, want none", lower, p[l])
		}
	}
	hold(t, "shares by length", share, want.Share)
	for l := range varied {
		hold8(t, "variance of a share by length", varied[l], want.ShareVariance[l])
	}
	hold8(t, "effective size of the composition", EffectiveSize(share, varied), want.Composition)
	hold8(t, "its design effect", want.Fish/EffectiveSize(share, varied), want.CompositionDE)
}

// The schools of a district are to it as fish to a trip: api00 in bins of its own values.
func TestGoldenClustersAsTrips(t *testing.T) {
	var g designGolden
	reference.Golden(t, "15-design-effect", &g)
	s := schools(t, "apiclus1.csv", "dnum", "", false)
	for i, column := range []string{"api00", "enroll"} {
		y := s.Numbers(column)
		mid := slices.Compact(slices.Sorted(slices.Values(y)))
		d := Design{Bins: len(mid), Mid: mid, Trips: make([]Trip, s.units), Strata: make([]Stratum, 1)}
		d.Lengths = make([]float64, s.units*len(mid))
		fish := make([]float64, s.units)
		for row, u := range s.unit {
			fish[u]++
			d.Lengths[u*len(mid)+slices.Index(mid, y[row])]++
		}
		for u := range fish {
			d.Trips[u] = Trip{Landed: fish[u], High: d.Bins}
			d.Strata[0].Trips = append(d.Strata[0].Trips, int32(u))
			for l := range mid {
				d.Lengths[u*len(mid)+l] /= fish[u]
			}
		}
		alike, ok := d.AlikeIn(0, fish)
		if !ok {
			t.Fatalf("15 districts tell nothing of how alike their schools are in %s", column)
		}
		hold8(t, "design effect of "+column, alike.DesignEffect, g.Output.ClusPlain.Effect[i])
		hold8(t, "effective schools of "+column, alike.EffectiveFish, g.Output.ClusPlain.Effective[i])
	}
}

func TestGoldenKishWeights(t *testing.T) {
	var g designGolden
	reference.Golden(t, "15-design-effect", &g)
	want := g.Output.Kish
	holdOne(t, "effective number of weights", WeightedSize(want.W), want.EffectiveN)
	sum := 0.0
	for _, w := range want.W {
		sum += w
	}
	holdOne(t, "of the same, summing to 1", WeightedSize(scaled(want.W, 1/sum)), want.FromOneFish)
	if got := WeightedSize(make([]float64, 3)); got != 0 {
		t.Errorf("weights of 0 are worth %v fish, want none", got)
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

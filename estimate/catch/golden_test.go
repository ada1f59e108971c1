package catch

import (
	"math"
	"slices"
	"testing"

	"earstone/reference"
)

// catchGolden is what golden topic 07 holds.
type catchGolden struct {
	Input struct {
		Bins, Ages   []float64
		LengthWeight struct {
			A, B float64
			SD   float64 `json:"residual_sd_log"`
		} `json:"length_weight"`
		Strata struct {
			Stratum, Bank []string
			Number        []*float64
			WeightKg      []*float64 `json:"weight_kg"`
		}
		Aged map[string][][]float64 `json:"aged_by_bank"`
	}
	Output struct {
		Strata []struct {
			Stratum       string
			Trips         int
			Number        float64
			Length        []float64   `json:"p_length"`
			Share         []float64   `json:"share"`
			Catch         []float64   `json:"catch_at_age"`
			MeanKg        float64     `json:"mean_weight_of_fish"`
			MeanLength    []float64   `json:"mean_length_at_age"`
			MeanWeight    []float64   `json:"mean_weight_at_age"`
			VarianceKey   []float64   `json:"variance_key"`
			VarianceTrips []float64   `json:"variance_trips"`
			SE            []float64   `json:"se_share"`
			Key           [][]float64 `json:"share_key_covariance"`
			BetweenTrips  [][]float64 `json:"share_trip_covariance"`
			Effective     float64     `json:"equivalent_sample_size"`
			SharePlus     []float64   `json:"share_plus_group"`
			VariancePlus  []float64   `json:"variance_plus_group"`
			ShareEqual    []float64   `json:"share_equal_trips"`
		}
		All struct {
			Catch      []float64 `json:"catch_at_age"`
			Plus       []float64
			Number     float64
			Filled     float64   `json:"filled_share"`
			MeanLength []float64 `json:"mean_length_at_age"`
			MeanWeight []float64 `json:"mean_weight_at_age"`
		} `json:"total_all_strata"`
		Sampled struct {
			Catch      []float64   `json:"catch_at_age"`
			Trips      [][]float64 `json:"covariance_trips"`
			KeyShared  [][]float64 `json:"covariance_key_shared_within_bank"`
			KeyApart   [][]float64 `json:"covariance_key_if_keys_were_separate"`
			Covariance [][]float64
			SE         []float64
			Share      []float64
			ShareCov   [][]float64 `json:"share_covariance"`
			Effective  float64     `json:"equivalent_sample_size"`
		} `json:"total_sampled_strata"`
		OneTrip struct {
			Relative []float64 `json:"relative_variance_by_age"`
			Donors   []string
		} `json:"one_trip"`
		FromWeight struct {
			Stratum      string
			Weights      []float64   `json:"expected_weight_at_bin"`
			Number       float64     `json:"number"`
			OfMeanLength float64     `json:"weight_of_mean_length"`
			Covariance   [][]float64 `json:"catch_trip_covariance_with_mean_weight"`
		} `json:"number_from_weight"`
		Survey []struct {
			Stratum  string
			Ratio    []float64   `json:"svyratio"`
			RatioCov [][]float64 `json:"svyratio_vcov"`
			Length   float64     `json:"svymean_length"`
			LengthSE float64     `json:"svymean_length_se"`
		}
		Rescaled []struct {
			Stratum string
			Draws   int
			Ratio   []float64 `json:"variance_of_ratio"`
			Mean    []float64 `json:"mean_of_ratio"`
			Linear  []float64 `json:"variance_of_linear_part"`
		} `json:"rescaled_bootstrap_enumerated"`
	}
}

const goldenTol = 1e-9 // the golden file's own tolerance

func readCatch(t testing.TB) *catchGolden {
	t.Helper()
	var g catchGolden
	reference.Golden(t, "07-catch-at-age", &g)
	if len(g.Output.Strata) != 5 {
		t.Fatalf("golden topic 07 holds %d strata, want 5", len(g.Output.Strata))
	}
	return &g
}

var banks = []string{"Quarrow", "Skell"}

// season is the golden season as a design, its key and the cells beneath it. Class 0 is
// age 1. The last stratum is filled from all trips of its bank; the second has its catch
// in weight, which knownNumbers replaces. The golden variances divide by n_l where
// methods, section 6, divide by n_l − 1: the cells say one fish more.
func (g *catchGolden) season(t testing.TB) (d Design, q []float64, cells []KeyCell) {
	t.Helper()
	lengths := reference.Data(t, "invented_trip_lengths.csv")
	trips, counts := map[string]int{}, lengths.Numbers("count")
	bins, landed := lengths.Numbers("bin_cm"), lengths.Numbers("landed_number")
	d = Design{Bins: len(g.Input.Bins), Ages: len(g.Input.Ages), KeyStrata: len(banks)}
	for s, name := range g.Input.Strata.Stratum {
		stratum := Stratum{Key: slices.Index(banks, g.Input.Strata.Bank[s])}
		if n := g.Input.Strata.Number[s]; n != nil {
			stratum.Number = *n
		} else {
			stratum.ByWeight, stratum.WeightKg = true, *g.Input.Strata.WeightKg[s]
		}
		for row, of := range lengths.Text("stratum") {
			trip := lengths.Text("trip")[row]
			if _, seen := trips[trip]; of != name || seen {
				continue
			}
			trips[trip] = len(d.Trips)
			stratum.Trips = append(stratum.Trips, int32(len(d.Trips)))
			d.Trips = append(d.Trips, Trip{Landed: landed[row], High: d.Bins, Group: s})
		}
		d.Strata = append(d.Strata, stratum)
	}
	for s := range d.Strata {
		if len(d.Strata[s].Trips) > 0 {
			continue
		}
		d.Strata[s].Filled = true
		for _, other := range d.Strata {
			if other.Key == d.Strata[s].Key && !other.Filled {
				d.Strata[s].Trips = append(d.Strata[s].Trips, other.Trips...)
			}
		}
	}
	d.Lengths = make([]float64, len(d.Trips)*d.Bins)
	measured := make([]float64, len(d.Trips))
	for row, trip := range lengths.Text("trip") {
		measured[trips[trip]] += counts[row]
	}
	for row, trip := range lengths.Text("trip") {
		l := slices.Index(g.Input.Bins, bins[row])
		d.Lengths[trips[trip]*d.Bins+l] += counts[row] / measured[trips[trip]]
	}
	lw := g.Input.LengthWeight
	for _, lower := range g.Input.Bins {
		d.Mid = append(d.Mid, lower+5)
		d.Weight = append(d.Weight, lw.A*math.Pow(lower+5, lw.B)*math.Exp(lw.SD*lw.SD/2))
	}
	for k, bank := range banks {
		for l, aged := range g.Input.Aged[bank] {
			n := 0.0
			for _, x := range aged {
				n += x
			}
			for _, x := range aged {
				q = append(q, x/n)
			}
			cells = append(cells, KeyCell{ID: k*d.Bins + l, Fish: n + 1})
		}
	}
	d.Margins = []Margin{{Strata: []int32{0, 1, 2, 3, 4}}, {Strata: []int32{0, 1, 2, 3}}}
	return d, q, cells
}

// knownNumbers takes the numbers that follow from weight as known.
func (g *catchGolden) knownNumbers(d Design) Design {
	d.Strata = slices.Clone(d.Strata)
	for s := range d.Strata {
		d.Strata[s].ByWeight, d.Strata[s].Number = false, g.Output.Strata[s].Number
	}
	return d
}

// goldenDonors of the stratum with one trip are the strata that the golden file names.
func (g *catchGolden) goldenDonors(d *Design, q []float64) {
	d.Singles(q, func(int) (donors []int) {
		for s, name := range g.Input.Strata.Stratum {
			if slices.Contains(g.Output.OneTrip.Donors, name) {
				donors = append(donors, s)
			}
		}
		return donors
	})
}

func hold(t *testing.T, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d numbers, want %d", what, len(got), len(want))
		return
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > goldenTol*math.Max(1e-12, math.Abs(want[i])) {
			t.Errorf("%s, place %d = %.15g, want %.15g", what, i, got[i], want[i])
		}
	}
}

func holdOne(t *testing.T, what string, got, want float64) {
	t.Helper()
	hold(t, what, []float64{got}, []float64{want})
}

// holdMatrix allows an entry that cancels the tolerance of its row and column.
func holdMatrix(t *testing.T, what string, got []float64, want [][]float64) {
	t.Helper()
	k := len(want)
	if k == 0 || len(got) != k*k {
		t.Errorf("%s: %d numbers, want %d × %d", what, len(got), k, k)
		return
	}
	for a := range k {
		for b := range k {
			scale := math.Sqrt(math.Abs(want[a][a] * want[b][b]))
			if math.Abs(got[a*k+b]-want[a][b]) > goldenTol*scale {
				t.Errorf("%s [%d, %d] = %.15g, want %.15g", what, a, b, got[a*k+b], want[a][b])
			}
		}
	}
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * by
	}
	return out
}

func ratio(x, by []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] / by[i]
	}
	return out
}

func diagonal(v []float64) []float64 {
	k := int(math.Sqrt(float64(len(v))) + 0.5)
	out := make([]float64, k)
	for a := range out {
		out[a] = v[a*k+a]
	}
	return out
}

func evaluate(d *Design, q []float64, draw Draw) []float64 {
	row := make([]float64, d.Size())
	NewWork(d).AtAge(row, q, draw)
	return row
}

// Source: recomputed, golden/07-catch-at-age.json, R 4.2.2.
func TestGoldenStrata(t *testing.T) {
	g := readCatch(t)
	d, q, _ := g.season(t)
	row := evaluate(&d, q, Draw{})
	equal := d
	equal.Trips = slices.Clone(d.Trips)
	for i := range equal.Trips {
		equal.Trips[i].Landed = 1
	}
	folded := d
	folded.Plus = 5 // class 5 is age 6
	equalRow, foldedRow := evaluate(&equal, q, Draw{}), evaluate(&folded, q, Draw{})
	for s, want := range g.Output.Strata {
		if len(d.Strata[s].Trips) != want.Trips {
			t.Errorf("%s rests on %d trips, want %d", want.Stratum, len(d.Strata[s].Trips), want.Trips)
		}
		p := make([]float64, d.Bins)
		if !d.LengthShares(p, s, nil) {
			t.Errorf("%s has no lengths", want.Stratum)
		}
		block := d.Block(row, s)
		hold(t, want.Stratum+", lengths", p, want.Length)
		holdOne(t, want.Stratum+", number", block.Total(), want.Number)
		holdOne(t, want.Stratum+", mean weight", d.meanWeight(p), want.MeanKg)
		hold(t, want.Stratum+", share", scaled(block.Numbers(), 1/block.Total()), want.Share)
		hold(t, want.Stratum+", catch at age", block.Numbers(), want.Catch)
		hold(t, want.Stratum+", mean length at age", ratio(block.Lengths(), block.Numbers()), want.MeanLength)
		hold(t, want.Stratum+", mean weight at age", ratio(block.Weights(), block.Numbers()), want.MeanWeight)
		if block.Unaged() != 0 {
			t.Errorf("%s has %v fish without an age, want none", want.Stratum, block.Unaged())
		}
		plus := folded.Block(foldedRow, s)
		hold(t, want.Stratum+", share with a plus group", scaled(plus.Numbers(), 1/plus.Total()), want.SharePlus)
		alone := equal.Block(equalRow, s)
		hold(t, want.Stratum+", share with equal trips", scaled(alone.Numbers(), 1/alone.Total()), want.ShareEqual)
	}
	all, want := d.Block(row, 5), g.Output.All
	hold(t, "catch at age of all strata", all.Numbers(), want.Catch)
	holdOne(t, "number of all strata", all.Total(), want.Number)
	hold(t, "mean length of all strata", ratio(all.Lengths(), all.Numbers()), want.MeanLength)
	hold(t, "mean weight of all strata", ratio(all.Weights(), all.Numbers()), want.MeanWeight)
	hold(t, "catch at age with a plus group", folded.Block(foldedRow, 5).Numbers(), want.Plus)
	holdOne(t, "filled share", d.Block(row, 4).Total()/all.Total(), want.Filled)
	hold(t, "catch at age of the sampled strata", d.Block(row, 6).Numbers(), g.Output.Sampled.Catch)
}

func TestGoldenStratumVariances(t *testing.T) {
	g := readCatch(t)
	d, q, cells := g.season(t)
	d = g.knownNumbers(d)
	g.goldenDonors(&d, q)
	for s, want := range g.Output.Strata {
		apart := d
		if apart.Strata[s].Filled { // the golden file takes all trips of the bank as one set
			apart.Trips = slices.Clone(d.Trips)
			for _, trip := range apart.Strata[s].Trips {
				apart.Trips[trip].Group = s
			}
		}
		n2 := want.Number * want.Number
		c := apart.Covariance([]int32{int32(s)}, q, cells)
		key, trips := scaled(c.Key, 1/n2), scaled(c.Trips, 1/n2)
		hold(t, want.Stratum+", key variance", diagonal(key), want.VarianceKey)
		holdMatrix(t, want.Stratum+", key covariance", key, want.Key)
		hold(t, want.Stratum+", trip variance", diagonal(trips), want.VarianceTrips)
		if want.BetweenTrips != nil {
			holdMatrix(t, want.Stratum+", trip covariance", trips, want.BetweenTrips)
		}
		total, se := diagonal(scaled(c.Total(), 1/n2)), make([]float64, d.Out())
		for a := range se {
			se[a] = math.Sqrt(total[a])
		}
		hold(t, want.Stratum+", SE of the share", se, want.SE)
		holdOne(t, want.Stratum+", effective size", EffectiveSize(want.Share, total), want.Effective)
		if want.VariancePlus != nil {
			apart.Plus = 5
			plus := apart.Covariance([]int32{int32(s)}, q, cells)
			hold(t, want.Stratum+", variance with a plus group", diagonal(scaled(plus.Total(), 1/n2)), want.VariancePlus)
		}
	}
}

func TestGoldenTotalVariances(t *testing.T) {
	g := readCatch(t)
	d, q, cells := g.season(t)
	d = g.knownNumbers(d)
	g.goldenDonors(&d, q)
	want, sampled := g.Output.Sampled, []int32{0, 1, 2, 3}
	c := d.Covariance(sampled, q, cells)
	holdMatrix(t, "trip covariance of the total", c.Trips, want.Trips)
	holdMatrix(t, "key covariance of the total", c.Key, want.KeyShared)
	total := c.Total()
	holdMatrix(t, "covariance of the total", total, want.Covariance)
	se := diagonal(total)
	for a := range se {
		se[a] = math.Sqrt(se[a])
	}
	hold(t, "SE of the total", se, want.SE)
	shares := ShareCovariance(want.Catch, total)
	holdMatrix(t, "covariance of the shares", shares, want.ShareCov)
	sum := 0.0
	for _, n := range want.Catch {
		sum += n
	}
	hold(t, "shares of the total", scaled(want.Catch, 1/sum), want.Share)
	holdOne(t, "effective size of the total", EffectiveSize(want.Share, diagonal(shares)), want.Effective)

	// The same fish as if each stratum had aged its own: the sum of the strata.
	apart, ownQ, own := d, []float64(nil), []KeyCell(nil)
	apart.Strata, apart.KeyStrata = slices.Clone(d.Strata), len(d.Strata)
	for s := range apart.Strata {
		k := d.Strata[s].Key
		ownQ = append(ownQ, q[k*d.Bins*d.Ages:(k+1)*d.Bins*d.Ages]...)
		for l := range d.Bins {
			own = append(own, KeyCell{ID: s*d.Bins + l, Fish: cells[k*d.Bins+l].Fish})
		}
		apart.Strata[s].Key = s
	}
	holdMatrix(t, "key covariance with separate keys", apart.Covariance(sampled, ownQ, own).Key, want.KeyApart)
}

func TestGoldenOneTrip(t *testing.T) {
	g := readCatch(t)
	d, q, _ := g.season(t)
	g.goldenDonors(&d, q)
	for s := range d.Strata {
		if name := g.Input.Strata.Stratum[s]; (name == "Skell-net") != (d.Strata[s].Relative != nil) {
			t.Errorf("%s with %d trips has the pooled variance %v", name, len(d.Strata[s].Trips), d.Strata[s].Relative)
		}
	}
	hold(t, "pooled relative variance", d.Strata[3].Relative, g.Output.OneTrip.Relative)
	if df := float64(g.Output.Strata[2].Trips - 1); d.Strata[3].RelativeDF != df { // Skell-line is the only donor
		t.Errorf("the pooled variance has %v degrees of freedom, want %v", d.Strata[3].RelativeDF, df)
	}
	for a, p := range g.Output.Strata[3].Share { // no age has half of the fish
		holdOne(t, "variance of its factor", d.Strata[3].Wobble[a], g.Output.OneTrip.Relative[a]/(1-p))
	}
	d.Singles(q, func(int) []int { return nil })
	if d.Strata[3].Relative != nil || d.Strata[3].Wobble != nil {
		t.Errorf("without donors the one trip has the relative variance %v, want none", d.Strata[3].Relative)
	}
}

func TestGoldenNumberFromWeight(t *testing.T) {
	g := readCatch(t)
	d, q, cells := g.season(t)
	want := g.Output.FromWeight
	s := slices.Index(g.Input.Strata.Stratum, want.Stratum)
	hold(t, "expected weight by bin", d.Weight, want.Weights)
	number := d.Block(evaluate(&d, q, Draw{}), s).Total()
	holdOne(t, "number from weight", number, want.Number)
	if wrong := *g.Input.Strata.WeightKg[s] / want.OfMeanLength; number > wrong*0.95 {
		t.Errorf("%.0f fish is nearly the %.0f that the weight of the mean length would give", number, wrong)
	}
	c := d.Covariance([]int32{int32(s)}, q, cells)
	holdMatrix(t, "trip covariance with the mean weight", c.Trips, want.Covariance)
}

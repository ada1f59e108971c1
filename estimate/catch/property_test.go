package catch

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// invented draws a design with its key: some strata with one trip, some filled, some with
// their catch in weight, bins without a key, a plus group or none.
func invented(t *rapid.T) (d Design, q []float64, cells []KeyCell) {
	d = Design{Bins: rapid.IntRange(1, 7).Draw(t, "bins"), Ages: rapid.IntRange(1, 5).Draw(t, "ages"), KeyStrata: rapid.IntRange(1, 2).Draw(t, "key strata")}
	if plus := rapid.IntRange(0, 4).Draw(t, "plus"); plus < d.Ages {
		d.Plus = plus
	}
	for l := range d.Bins {
		d.Mid = append(d.Mid, 52.5+5*float64(l))
		d.Weight = append(d.Weight, 2e-5*math.Pow(d.Mid[l], 3))
	}
	strata := rapid.IntRange(1, 4).Draw(t, "strata")
	for s := range strata {
		stratum := Stratum{Number: rapid.Float64Range(1, 1e5).Draw(t, "number"), Key: rapid.IntRange(0, d.KeyStrata-1).Draw(t, "key")}
		if rapid.Bool().Draw(t, "by weight") {
			stratum.ByWeight, stratum.WeightKg = true, stratum.Number*10
		}
		for range rapid.IntRange(1, 4).Draw(t, "trips") {
			stratum.Trips = append(stratum.Trips, int32(len(d.Trips)))
			d.addTrip(t, s)
		}
		d.Strata = append(d.Strata, stratum)
	}
	if rapid.Bool().Draw(t, "a filled stratum") {
		all := make([]int32, len(d.Trips))
		for i := range all {
			all[i] = int32(i)
		}
		d.Strata = append(d.Strata, Stratum{Number: 500, Trips: all, Filled: true})
	}
	margin := Margin{}
	for s := range d.Strata {
		margin.Strata = append(margin.Strata, int32(s))
	}
	d.Margins = []Margin{margin}
	for at := range d.KeyStrata * d.Bins {
		row := make([]float64, d.Ages)
		cell := KeyCell{ID: -1}
		if rapid.IntRange(0, 4).Draw(t, "key here") > 0 {
			total := 0.0
			for a := range row {
				row[a] = float64(rapid.IntRange(0, 5).Draw(t, "aged"))
				total += row[a]
			}
			if total > 0 {
				cell = KeyCell{ID: at, Fish: total}
			}
			for a := range row {
				row[a] /= math.Max(total, 1)
			}
		}
		q, cells = append(q, row...), append(cells, cell)
	}
	return d, q, cells
}

func (d *Design) addTrip(t *rapid.T, group int) {
	counts, total := make([]float64, d.Bins), 0.0
	for l := range counts {
		counts[l] = float64(rapid.IntRange(0, 6).Draw(t, "measured"))
		total += counts[l]
	}
	if total == 0 {
		counts[0], total = 1, 1
	}
	for _, n := range counts {
		d.Lengths = append(d.Lengths, n/total)
	}
	d.Trips = append(d.Trips, Trip{Landed: rapid.Float64Range(1, 1000).Draw(t, "landed"), High: d.Bins, Group: group})
}

// same tells whether evaluations agree to what reordered sums lose.
func same(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool {
		return math.Abs(x-y) <= 1e-9*math.Max(1e-3, math.Max(math.Abs(x), math.Abs(y)))
	})
}

func TestEveryFishIsCounted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, _ := invented(t)
		row := evaluate(&d, q, Draw{})
		sum := 0.0
		for i := range len(d.Strata) + 1 {
			b, n := d.Block(row, i), 0.0
			for _, x := range b.Numbers() {
				n += x
			}
			if math.Abs(n+b.Unaged()-b.Total()) > 1e-9*b.Total() {
				t.Fatalf("place %d has %v aged and %v unaged fish of %v", i, n, b.Unaged(), b.Total())
			}
			if i < len(d.Strata) {
				sum += b.Total()
			}
		}
		if total := d.Block(row, len(d.Strata)).Total(); math.Abs(total-sum) > 1e-9*sum {
			t.Fatalf("the strata hold %v fish, their margin %v", sum, total)
		}
	})
}

func TestOrderOfTripsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, cells := invented(t)
		other := d
		other.Strata = slices.Clone(d.Strata)
		for s := range other.Strata {
			other.Strata[s].Trips = rapid.Permutation(d.Strata[s].Trips).Draw(t, "trips")
		}
		if a, b := evaluate(&d, q, Draw{}), evaluate(&other, q, Draw{}); !same(a, b) {
			t.Fatalf("the catch at age moves with the order of trips: %v, %v", a, b)
		}
		set := d.Margins[0].Strata
		if a, b := d.Covariance(set, q, cells).Total(), other.Covariance(set, q, cells).Total(); !same(a, b) {
			t.Fatalf("the covariance moves with the order of trips: %v, %v", a, b)
		}
	})
}

func TestOnlyRelativeLandingsMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, cells := invented(t)
		doubled := d
		doubled.Trips = slices.Clone(d.Trips)
		for i := range doubled.Trips {
			doubled.Trips[i].Landed *= 2
		}
		if a, b := evaluate(&d, q, Draw{}), evaluate(&doubled, q, Draw{}); !slices.Equal(a, b) {
			t.Fatalf("twice the landing of every trip moves the catch at age: %v, %v", a, b)
		}
		set := d.Margins[0].Strata
		if a, b := d.Covariance(set, q, cells).Total(), doubled.Covariance(set, q, cells).Total(); !slices.Equal(a, b) {
			t.Fatalf("twice the landing of every trip moves the covariance: %v, %v", a, b)
		}
	})
}

func TestSplittingACatchChangesNoTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, cells := invented(t)
		part := rapid.Float64Range(0.1, 0.9).Draw(t, "part")
		s := rapid.IntRange(0, len(d.Strata)-1).Draw(t, "stratum")
		if len(d.Strata[s].Trips) == 1 {
			return // a filled stratum has no variance of one trip to share
		}
		split := d
		split.Strata = slices.Clone(d.Strata)
		rest := d.Strata[s]
		rest.Number, rest.WeightKg, rest.Filled = rest.Number*(1-part), rest.WeightKg*(1-part), true
		split.Strata[s].Number, split.Strata[s].WeightKg = d.Strata[s].Number*part, d.Strata[s].WeightKg*part
		split.Strata = append(split.Strata, rest)
		split.Margins = []Margin{{Strata: append(slices.Clone(d.Margins[0].Strata), int32(len(d.Strata)))}}
		whole, parts := d.Block(evaluate(&d, q, Draw{}), len(d.Strata)), split.Block(evaluate(&split, q, Draw{}), len(split.Strata))
		if !same(whole, parts) {
			t.Fatalf("split in two, the catch at age is %v, was %v", parts, whole)
		}
		a, b := d.Covariance(d.Margins[0].Strata, q, cells), split.Covariance(split.Margins[0].Strata, q, cells)
		if !same(a.Trips, b.Trips) || !same(a.Key, b.Key) {
			t.Fatalf("split in two, the covariance is %v, was %v", b, a)
		}
	})
}

func TestUnitOfLengthIsOnlyAUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, _ := invented(t)
		mm := d
		mm.Mid = scaled(d.Mid, 10)
		a, b := evaluate(&d, q, Draw{}), evaluate(&mm, q, Draw{})
		for i := range len(d.Strata) + 1 {
			x, y := d.Block(a, i), mm.Block(b, i)
			if !slices.Equal(x.Numbers(), y.Numbers()) || !slices.Equal(x.Weights(), y.Weights()) || !same(scaled(x.Lengths(), 10), y.Lengths()) {
				t.Fatalf("in millimetres place %d is %v, in centimetres %v", i, y, x)
			}
		}
	})
}

func TestNoKeyLeavesAllUnaged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, cells := invented(t)
		clear(q)
		for i := range cells {
			cells[i] = KeyCell{ID: -1}
		}
		row := evaluate(&d, q, Draw{})
		for i := range len(d.Strata) + 1 {
			b := d.Block(row, i)
			if slices.Max(b.Numbers()) != 0 || slices.Max(b.Lengths()) != 0 || math.Abs(b.Unaged()-b.Total()) > 1e-9*b.Total() {
				t.Fatalf("without a key place %d is %v", i, b)
			}
		}
		for _, v := range d.Covariance(d.Margins[0].Strata, q, cells).Total() {
			if v != 0 {
				t.Fatalf("without a key the covariance holds %v", v)
			}
		}
	})
}

func TestFactorsOfADraw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, _ := invented(t)
		d.Strata[0].Relative = make([]float64, d.Out())
		one := func(n int) []float64 { return slices.Repeat([]float64{1}, n) }
		plain := evaluate(&d, q, Draw{})
		nothing := Draw{Trips: one(len(d.Trips)), Catch: one(len(d.Strata)), Wobble: one(len(d.Strata) * d.Out())}
		if got := evaluate(&d, q, nothing); !same(plain, got) {
			t.Fatalf("factors of 1 give %v, nothing drawn %v", got, plain)
		}
		twice := nothing
		twice.Catch = slices.Repeat([]float64{2}, len(d.Strata))
		if got := evaluate(&d, q, twice); !same(scaled(plain, 2), got) {
			t.Fatalf("twice the catch gives %v, once %v", got, plain)
		}
		wobbled := nothing
		wobbled.Wobble = one(len(d.Strata) * d.Out())
		for a := range d.Out() {
			wobbled.Wobble[a] = rapid.Float64Range(0.2, 3).Draw(t, "wobble")
		}
		before, after := d.Block(plain, 0), d.Block(evaluate(&d, q, wobbled), 0)
		sum := 0.0
		for a, n := range after.Numbers() {
			sum += n
			for b, other := range after.Numbers() {
				want := before.Numbers()[a] * wobbled.Wobble[a] * other
				if got := before.Numbers()[b] * wobbled.Wobble[b] * n; math.Abs(got-want) > 1e-9*math.Max(math.Abs(want), 1e-3) {
					t.Fatalf("ages %d and %d do not stand in the ratio of their factors", a, b)
				}
			}
			if x := before.Numbers()[a]; x > 0 && math.Abs(after.Lengths()[a]/n-before.Lengths()[a]/x) > 1e-9*d.Mid[d.Bins-1] {
				t.Fatalf("the wobble moves the mean length at age %d", a)
			}
		}
		if math.Abs(sum+after.Unaged()-after.Total()) > 1e-9*after.Total() || after.Total() != before.Total() {
			t.Fatalf("wobbled, %v fish are aged, %v are not, of %v", sum, after.Unaged(), after.Total())
		}
	})
}

// z is the derivative of the summed catch at age by the multiplicity of a trip, filled
// strata and numbers from weight included: held against differences of AtAge itself.
func TestInfluenceIsTheDerivative(t *testing.T) {
	const h = 1e-5
	rapid.Check(t, func(t *rapid.T) {
		d, q, _ := invented(t)
		z, k := d.influence(d.Margins[0].Strata, q), d.Out()
		for trip := range d.Trips {
			alone := 0.0 // the number of fish whose lengths rest on this trip
			for s := range d.Strata {
				alone += d.Block(evaluate(&d, q, Draw{}), s).Total()
			}
			r := slices.Repeat([]float64{1}, len(d.Trips))
			r[trip] = 1 + h
			up := d.Block(evaluate(&d, q, Draw{Trips: r}), len(d.Strata)).Numbers()
			r[trip] = 1 - h
			down := d.Block(evaluate(&d, q, Draw{Trips: r}), len(d.Strata)).Numbers()
			for a := range k {
				if got, want := z[trip*k+a], (up[a]-down[a])/(2*h); math.Abs(got-want) > 1e-6*alone {
					t.Fatalf("trip %d moves age %d by %v, differences say %v", trip, a, got, want)
				}
			}
		}
	})
}

// Over every draw of every group, each as likely, Σ r z has the analytic covariance.
func TestEveryDrawHasTheAnalyticCovariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, k := rapid.IntRange(2, 5).Draw(t, "trips"), 2
		z := rapid.SliceOfN(rapid.Float64Range(-10, 10), m*k, m*k).Draw(t, "z")
		want, got, mean, draws := make([]float64, k*k), make([]float64, k*k), make([]float64, k), 0.0
		TripCovariance(want, z, [][]int32{upTo(m)})
		sums := [][]float64(nil)
		everyDraw(m, func(times []float64) {
			sum := make([]float64, k)
			for i, r := range times {
				for a := range k {
					sum[a] += r * z[i*k+a]
				}
			}
			sums, draws = append(sums, sum), draws+1
			for a := range k {
				mean[a] += sum[a]
			}
		})
		for _, sum := range sums {
			for a := range k {
				for b := range k {
					got[a*k+b] += (sum[a] - mean[a]/draws) * (sum[b] - mean[b]/draws) / draws
				}
			}
		}
		if !same(got, want) {
			t.Fatalf("the draws have the covariance %v, the formula says %v", got, want)
		}
	})
}

func TestCovarianceIsOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, q, cells := invented(t)
		c := d.Covariance(d.Margins[0].Strata, q, cells)
		k, x := d.Out(), make([]float64, d.Out())
		for a := range x {
			x[a] = rapid.Float64Range(-1, 1).Draw(t, "x")
		}
		for part, v := range map[string][]float64{"trips": c.Trips, "key": c.Key} {
			form, scale := 0.0, 0.0
			for a := range k {
				for b := range k {
					form += x[a] * v[a*k+b] * x[b]
					scale = math.Max(scale, math.Abs(v[a*k+b]))
					if math.Abs(v[a*k+b]-v[b*k+a]) > 1e-9*scale {
						t.Fatalf("the covariance by %s is not symmetric: %v", part, v)
					}
				}
			}
			if form < -1e-9*scale {
				t.Fatalf("by %s a sum of ages has the variance %v", part, form)
			}
		}
	})
}

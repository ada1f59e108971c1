package growth

import (
	"fmt"
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/statistics/dist"
	"earstone/statistics/interval"
	"earstone/statistics/optimise"
)

// Profile is the likelihood interval of a parameter of a group at a level: the
// values at which the highest log-likelihood over all other parameters lies
// within χ²₁(level)/2 of the maximum. An end is unknown where the likelihood
// never falls that far within the parameter's range: the data do not bound it.
// Both are unknown for a held parameter.
//
// Trouble is Designed where fish have unequal design weights, whose weighted sum
// is no likelihood: take the sandwich or the bootstrap. NotConverged where the
// profile can't be followed. Panics unless 0 < level < 1.
//
// Methods, section 7. Venzon & Moolgavkar (1988), Applied Statistics 37.
func (f *Fit) Profile(group, parameter int, level float64) (low, high record.Number, err error) {
	t := &Trouble{Model: f.Curve.Model, Parameter: f.Curve.Model.Parameters()[parameter], Fish: f.Fish, Youngest: f.reach.youngest, Oldest: f.reach.oldest}
	at := f.layout.index[group*len(f.layout.held)+parameter]
	switch {
	case f.Designed:
		t.Reason = Designed
		return low, high, t
	case at < 0:
		return low, high, nil
	}
	s := f.sought
	r, err := optimise.Profile(s.objective, s.fit, at, level, s.settings)
	if err != nil {
		t.Reason, t.Value = NotConverged, f.x[at]
		return low, high, t
	}
	if !r.LowOpen {
		low = record.Some(s.centre[at] + s.unit[at]*r.Low)
	}
	if !r.HighOpen {
		high = record.Some(s.centre[at] + s.unit[at]*r.High)
	}
	return low, high, nil
}

// Point is the curve at one age with its standard error and pointwise interval.
type Point struct{ Age, Length, SE, Low, High float64 }

// Band is the curve of a group at some ages, with the interval of the curve, not
// of fish, by the delta method: SE² = gᵀ V g, g the slopes by the parameters and
// V their covariance, length ± z SE. The curve is the expected length, under
// Lognormal the median length. Panics on a fit in trouble and unless
// 0 < level < 1.
func (f *Fit) Band(group int, ages []float64, level float64) []Point {
	np := len(f.layout.held)
	v, slope, p := f.Covariance(group), make([]float64, np), f.Estimates[group*np:(group+1)*np]
	checkLevel(level)
	if v == nil {
		panic("growth: a band of a fit in trouble")
	}
	z := dist.NormalQuantile((1 + level) / 2)
	out := make([]Point, len(ages))
	for i, age := range ages {
		length, variance := f.Curve.Slope(slope, age, p), 0.0
		for a := range np {
			for b := range np {
				variance += float64(slope[a] * v[a*np+b] * slope[b])
			}
		}
		se := math.Sqrt(math.Max(variance, 0))
		out[i] = Point{age, length, se, length - z*se, length + z*se}
	}
	return out
}

// BootstrapBand is the curve of a group at some ages with the SD and the
// percentile interval (type 6) of replicates, each of them the Estimates of a
// refit, row after row. A replicate whose curve has no value at an age is left
// out there. Panics on fewer than two replicates, a length that is no whole
// number of them, and unless 0 < level < 1.
func (f *Fit) BootstrapBand(group int, ages, replicates []float64, level float64) []Point {
	np, row := len(f.layout.held), len(f.Estimates)
	checkLevel(level)
	if len(replicates)%row != 0 || len(replicates) < 2*row {
		panic(fmt.Sprintf("growth: %d numbers are no replicates of %d", len(replicates), row))
	}
	out, at := make([]Point, len(ages)), make([]float64, 0, len(replicates)/row)
	for i, age := range ages {
		at = at[:0]
		for r := 0; r < len(replicates); r += row {
			if l := f.Curve.Length(age, replicates[r+group*np:r+(group+1)*np]); !math.IsNaN(l) && !math.IsInf(l, 0) {
				at = append(at, l)
			}
		}
		out[i] = Point{Age: age, Length: f.Curve.Length(age, f.Estimates[group*np:(group+1)*np]), SE: math.NaN(), Low: math.NaN(), High: math.NaN()}
		if len(at) > 1 {
			slices.Sort(at)
			_, out[i].SE = interval.MeanSD(at)
			out[i].Low, out[i].High = interval.QuantileType6(at, (1-level)/2), interval.QuantileType6(at, (1+level)/2)
		}
	}
	return out
}

func checkLevel(level float64) {
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("growth: an interval at level %v", level))
	}
}

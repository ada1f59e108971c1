package catch

import (
	"math"
	"slices"
	"testing"
)

// Source: recomputed, golden/07-catch-at-age.json, R 4.2.2 with package survey, trips as
// the only stage.
func TestGoldenSurvey(t *testing.T) {
	g := readCatch(t)
	d, q, cells := g.season(t)
	d = g.knownNumbers(d)
	row := evaluate(&d, q, Draw{})
	for _, want := range g.Output.Survey {
		s := slices.Index(g.Input.Strata.Stratum, want.Stratum)
		block := d.Block(row, s)
		hold(t, want.Stratum+", svyratio", scaled(block.Numbers(), 1/block.Total()), want.Ratio)
		n := block.Total()
		holdMatrix(t, want.Stratum+", its covariance", scaled(d.Covariance([]int32{int32(s)}, q, cells).Trips, 1/(n*n)), want.RatioCov)
		mean := 0.0
		for _, x := range block.Lengths() {
			mean += x / n
		}
		holdOne(t, want.Stratum+", mean length", mean, want.Length)
		z, landed := make([]float64, len(d.Trips)), 0.0
		for _, trip := range d.Strata[s].Trips {
			landed += d.Trips[trip].Landed
		}
		for _, trip := range d.Strata[s].Trips {
			z[trip] = d.Trips[trip].Landed / landed * (d.meanLength(int(trip)) - mean)
		}
		variance := []float64{0}
		TripCovariance(variance, z, [][]int32{d.Strata[s].Trips})
		holdOne(t, want.Stratum+", SE of the mean length", math.Sqrt(variance[0]), want.LengthSE)
	}
}

// Source: recomputed, golden/07-catch-at-age.json: every one of the m^(m−1) draws of
// m − 1 trips of a stratum, weights times m/(m−1), equally likely.
func TestGoldenRescaledDraws(t *testing.T) {
	g := readCatch(t)
	d, q, cells := g.season(t)
	d = g.knownNumbers(d)
	work, row := NewWork(&d), make([]float64, d.Size())
	for _, want := range g.Output.Rescaled {
		s := slices.Index(g.Input.Strata.Stratum, want.Stratum)
		n, k, trips := g.Output.Strata[s].Number, d.Out(), d.Strata[s].Trips
		z := d.influence([]int32{int32(s)}, q)
		mean, square, linear := make([]float64, k), make([]float64, k), make([]float64, k)
		shares, draws := [][]float64(nil), 0
		everyDraw(len(trips), func(times []float64) {
			r := make([]float64, len(d.Trips))
			for i, trip := range trips {
				r[trip] = times[i]
			}
			work.AtAge(row, q, Draw{Trips: r})
			share := scaled(d.Block(row, s).Numbers(), 1/n)
			shares = append(shares, share)
			draws++
			for a := range k {
				mean[a] += share[a]
				sum := 0.0
				for _, trip := range trips {
					sum += r[trip] * z[int(trip)*k+a] / n
				}
				linear[a] += sum * sum
			}
		})
		if draws != want.Draws {
			t.Fatalf("%s has %d draws, want %d", want.Stratum, draws, want.Draws)
		}
		mean, linear = scaled(mean, 1/float64(draws)), scaled(linear, 1/float64(draws))
		for _, share := range shares {
			for a := range k {
				square[a] += (share[a] - mean[a]) * (share[a] - mean[a]) / float64(draws)
			}
		}
		hold(t, want.Stratum+", mean over the draws", mean, want.Mean)
		hold(t, want.Stratum+", variance over the draws", square, want.Ratio)
		hold(t, want.Stratum+", variance of the linear part", linear, want.Linear)
		analytic := diagonal(scaled(d.Covariance([]int32{int32(s)}, q, cells).Trips, 1/(n*n)))
		hold(t, want.Stratum+", the analytic variance beside it", linear, analytic)
	}
}

// everyDraw hands over the multiplicities, m/(m−1) times how often each of m trips is
// drawn, of every sequence of m − 1 draws.
func everyDraw(m int, each func(times []float64)) {
	picks := make([]int, m-1)
	for {
		times := make([]float64, m)
		for _, p := range picks {
			times[p] += float64(m) / float64(m-1)
		}
		each(times)
		at := 0
		for at < len(picks) {
			if picks[at]++; picks[at] < m {
				break
			}
			picks[at] = 0
			at++
		}
		if at == len(picks) {
			return
		}
	}
}

package catch

import (
	"math"
	"testing"

	"earstone/reference"
)

func TestClusterMeanOfSchools(t *testing.T) {
	// Source: check-values, section 6, item 1: 15 districts with 183 schools; the mean and its
	// SE computed with a survey package and by this formula, equal to all digits given. With
	// the finite correction 1 − 15/757 the SE 23.542 is printed in the package's output.
	const mean, se, corrected = 644.1693989, 23.77901072, 23.542
	clusters := reference.Published(t, "cluster-sample.csv")
	units, sums := clusters.Numbers("units"), clusters.Numbers("sum_api00")
	got, z := ratioOf(ones(clusters.Rows), sums, units)
	if tol := 0.5e-7; math.Abs(got-mean) > tol {
		t.Errorf("mean = %.7f, want %.7f", got, mean)
	}
	variance := []float64{0}
	TripCovariance(variance, z, [][]int32{upTo(clusters.Rows)})
	if got, tol := math.Sqrt(variance[0]), 0.5e-8; math.Abs(got-se) > tol {
		t.Errorf("SE = %.8f, want %.8f", got, se)
	}
	if got, tol := math.Sqrt(variance[0]*(1-15.0/757)), 0.5e-3; math.Abs(got-corrected) > tol {
		t.Errorf("SE with the finite correction = %.3f, want %.3f", got, corrected)
	}
}

func TestClusterTotalOfSchools(t *testing.T) {
	// Source: check-values, section 6, item 2: weight 33.8469963074 a school; total enrolment
	// 3404940.134529 with SE 941610.740912 (computed); with the finite correction 932235.03
	// (printed in a package's documentation).
	const weight, total, se, corrected = 33.8469963074, 3404940.134529, 941610.740912, 932235.03
	clusters := reference.Published(t, "cluster-sample.csv")
	z, sum := clusters.Numbers("sum_enroll"), 0.0
	for i := range z {
		z[i] *= weight
		sum += z[i]
	}
	if tol := 1e-4; math.Abs(sum-total) > tol { // the weight has twelve digits
		t.Errorf("total = %.4f, want %.4f", sum, total)
	}
	variance := []float64{0}
	TripCovariance(variance, z, [][]int32{upTo(clusters.Rows)})
	if got, tol := math.Sqrt(variance[0]), 1e-4; math.Abs(got-se) > tol {
		t.Errorf("SE = %.4f, want %.4f", got, se)
	}
	if got, tol := math.Sqrt(variance[0]*(1-15.0/757)), 0.5e-2; math.Abs(got-corrected) > tol {
		t.Errorf("SE with the finite correction = %.2f, want %.2f", got, corrected)
	}
}

func upTo(n int) []int32 {
	all := make([]int32, n)
	for i := range all {
		all[i] = int32(i)
	}
	return all
}

func TestMeanWeightIsNotWeightOfMeanLength(t *testing.T) {
	// Source: identity (check-values, section 6, item 3): W = c L³ with L normal of mean 100
	// and SD 10 has the mean c(100³ + 3·100·10²) = 1.03 c·100³. Bins of half a unit, cut at
	// eight SD; a landing of 1.03 t of fish that would weigh 1 kg at 100 are 1,000 fish.
	const c, want, tol = 1e-6, 1000, 1e-6
	d := Design{Bins: 321, Ages: 1, KeyStrata: 1, Trips: []Trip{{Landed: 1, High: 321}}}
	sum := 0.0
	for l := range d.Bins {
		x := 20 + 0.5*float64(l)
		d.Mid, d.Weight = append(d.Mid, x), append(d.Weight, c*x*x*x)
		d.Lengths = append(d.Lengths, math.Exp(-(x-100)*(x-100)/200))
		sum += d.Lengths[l]
	}
	for l := range d.Lengths {
		d.Lengths[l] /= sum
	}
	d.Strata = []Stratum{{ByWeight: true, WeightKg: 1030, Trips: []int32{0}}}
	got := d.Block(evaluate(&d, ones(d.Bins), Draw{}), 0).Total()
	if math.Abs(got-want) > tol {
		t.Errorf("1,030 kg are %.6f fish, want %v", got, want)
	}
}

func TestEffectiveSizeOfSimpleSample(t *testing.T) {
	// Source: identity (check-values, section 6, item 4): variances p(1−p)/n give back n.
	const n, tol = 240, 1e-9
	p := []float64{0.5, 0.25, 0.125, 0.0625, 0.0625}
	v := make([]float64, len(p))
	for i := range p {
		v[i] = p[i] * (1 - p[i]) / n
	}
	if got := EffectiveSize(p, v); math.Abs(got-n) > tol {
		t.Errorf("the variances of %v single fish are worth %v of them", n, got)
	}
	if got := EffectiveSize(p, make([]float64, len(p))); got != 0 {
		t.Errorf("without a variance the effective size is %v, want 0 for unknown", got)
	}
}

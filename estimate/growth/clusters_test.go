package growth

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Fish that each are a cluster of their own are fish drawn singly: B is that of the
// sandwich of weighted fish but for m/(m−1), and so are the variances (by hand).
func TestClustersOfOneFish(t *testing.T) {
	d, inclusion := invented(t)
	d.Group = nil
	for i, p := range inclusion {
		d.Weight, d.Cluster = append(d.Weight, 1/p), append(d.Cluster, i)
	}
	alone, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	d.Cluster = nil
	singly, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	m := float64(len(inclusion))
	if alone.Clusters != len(inclusion) {
		t.Errorf("%d clusters of one fish are told as %d", len(inclusion), alone.Clusters)
	}
	for p, name := range singly.Curve.Model.Parameters() {
		near(t, "SE of "+name, alone.SE(0, p).X, singly.SE(0, p).X*math.Sqrt(m/(m-1)), 1e-10)
	}
}

// clustered draws fish of two groups that grow alike, from trips whose fish are alike.
func clustered(r *rand.Rand, trips int) (d Data) {
	for trip := range trips {
		shift := 6 * r.NormFloat64()
		for range 12 {
			age := 0.5 + 13*r.Float64()
			length := 240*(1-math.Exp(-0.2*(age+0.8))) + shift + 6*r.NormFloat64()
			d.Age, d.Length = append(d.Age, math.Round(age*4)/4), append(d.Length, length)
			d.Group, d.Cluster = append(d.Group, trip%2), append(d.Cluster, trip)
		}
	}
	return d
}

// Where fish of a trip are alike, a test that takes them for drawn singly finds
// differences that are not there; Wald's over trips keeps near to its level. 300 seasons:
// the standard error of a share of 0.05 is 0.0126.
func TestClustersKeepTheLevel(t *testing.T) {
	const seasons, level = 300, 0.05
	seed := uint64(20)
	r := rand.New(rand.NewPCG(seed, 1))
	naive, over := 0, 0
	for range seasons {
		d := clustered(r, 40)
		apart, err := FitCurve(d, Settings{Apart: []bool{true, true, true}})
		if err != nil {
			t.Fatal(err)
		}
		equal, ok := apart.Equal([]bool{true, true, true})
		if !ok {
			t.Fatal("there is no test of groups with 40 trips")
		}
		if equal.P < level {
			over++
		}
		d.Cluster = nil
		singly, err := FitCurve(d, Settings{Apart: []bool{true, true, true}})
		if err != nil {
			t.Fatal(err)
		}
		if test, _ := singly.Equal([]bool{true, true, true}); test.P < level {
			naive++
		}
	}
	t.Logf("seed %d: at p < %v %d of %d seasons differ over trips, %d with fish taken singly", seed, level, over, seasons, naive)
	if share := float64(over) / seasons; share > level+3*0.0126 {
		t.Errorf("groups that grow alike differ in %.3f of seasons at p < %v", share, level)
	}
	if share := float64(naive) / seasons; share < 0.2 {
		t.Errorf("fish taken singly differ in %.3f of seasons: the trips of this test are not alike enough to need clusters", share)
	}
}

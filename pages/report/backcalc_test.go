package report

import (
	"math"
	"strings"
	"testing"

	"earstone/estimate/growth"
	"earstone/estimate/run"
	"earstone/programme/record"
)

// calculatedBack are twelve fish of two or three annuli, by two rules.
func calculatedBack(t *testing.T) *run.BackFound {
	t.Helper()
	b := &run.BackFound{Rules: []growth.Rule{growth.ScaleProportional, growth.DahlLea}, Unlike: 2, Lacking: 1}
	for r := range b.Rules {
		var fish, annulus []int
		var length []float64
		for i := range 12 {
			for j := range 2 + i%2 {
				fish, annulus = append(fish, i), append(annulus, j+1)
				length = append(length, 30+20*float64(j)+5*math.Sin(float64(i))+0.5*math.Cos(float64(i*j))-2*float64(r))
			}
		}
		m, err := growth.MeansAtAnnuli(fish, annulus, length)
		if err != nil {
			t.Fatal(err)
		}
		means := run.BackMeans{Means: m}
		for _, at := range m.Annuli {
			e := estimated(at.Mean, at.SE)
			e.Stones = at.Fish
			means.Points = append(means.Points, e)
		}
		b.Means = append(b.Means, means)
	}
	for i := range 12 {
		b.Fish = append(b.Fish, run.BackFish{Fish: &record.Fish{Fish: "QB1"}, Lengths: [][]float64{[]float64{30, 50, -1}[:2+i%2]}})
	}
	return b
}

func TestLengthsAtAnnuliInTheReport(t *testing.T) {
	k := grown(t)
	k.s.Back = calculatedBack(t)
	c := k.growth()
	f := c.Sets[len(c.Sets)-1].Figures[0]
	for _, want := range []string{"from the marked annuli of 12 fish, the mean length at the first annulus is 30", "That is by the scale-proportional rule; by the others it is 28", "Fish keep their place:", "2 fish are left out: no marked reading", "1 fish is left out for want"} {
		if !strings.Contains(plain(f.Says), want) {
			t.Errorf("the page says\n%s\nwhich lacks\n%s", plain(f.Says), want)
		}
	}
	if rows := f.Table.Rows; len(rows) != 3 || rows[2][1] != "6" || len(rows[0]) != len(f.Table.Head) {
		t.Errorf("the means stand as %v, want three annuli, the last of 6 fish", rows)
	}
	if !strings.Contains(string(f.Picture), "annulus 3: mean") {
		t.Error("the picture has no mean at annulus 3")
	}
}

func TestNoLengthsAtAnnuli(t *testing.T) {
	k := grown(t)
	k.s.NoBack = run.ErrNoMarks
	if c := k.growth(); !strings.Contains(c.Says[len(c.Says)-1], "No lengths are calculated back from annuli: no reading has marked annuli") {
		t.Errorf("without marks the chapter says %q", c.Says)
	}
	k = grown(t)
	k.s.NoGrowth, k.s.NoBack, k.s.Back = &growth.Trouble{Reason: growth.TooFewFish, Model: growth.VonBertalanffy}, &growth.Trouble{Reason: growth.TooFewFish}, &run.BackFound{Lacking: 3}
	if c := k.growth(); !strings.Contains(c.Says[len(c.Says)-1], "3 fish are left out for want of a distance") {
		t.Errorf("marks that lack something are told as %q", c.Says)
	}
	k = grown(t)
	b := calculatedBack(t)
	b.Means[0] = run.BackMeans{Trouble: &growth.Trouble{Reason: growth.TooFewFish, Fish: 1}}
	k.s.Back = b
	if c := k.growth(); !strings.Contains(c.Says[len(c.Says)-1], "No lengths are calculated back from annuli") {
		t.Errorf("means that could not be had are told as %q", c.Says)
	}
}

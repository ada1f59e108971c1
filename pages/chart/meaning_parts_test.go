package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestNoFishIsLost draws clouds of any size: every fish is in some dot.
func TestNoFishIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 3*mostDots).Draw(t, "places")
		q := plot{area: box{50, 20, 400, 300}, x: scale{0, 10, 50, 400}, y: scale{0, 100, 300, 20}}
		var fish []Spot
		want := 0
		for i := range n {
			f := Spot{10 * math.Abs(math.Sin(float64(i))), 100 * math.Abs(math.Cos(float64(i)*1.7)), rapid.IntRange(-1, 9).Draw(t, "fish")}
			want += max(f.Fish, 0)
			fish = append(fish, f)
		}
		got := 0
		for _, d := range q.dots(fish) {
			got += d.Fish
		}
		if got != want {
			t.Errorf("the dots hold %d of %d fish", got, want)
		}
	})
}

func TestDotAreasFollowTheNumber(t *testing.T) {
	p := Growth{Unit: "cm", Fish: []Spot{{2, 50, 16}, {6, 90, 4}, {6, 120, 64}}}
	var radii []float64
	for _, e := range found(t, p.Draw(), "circle", "dot") {
		if e.number(t, "cy") > 40 { // the explanation stands above
			radii = append(radii, e.number(t, "r"))
		}
	}
	if len(radii) != 3 || math.Abs(radii[2]/radii[0]-2) > 0.01 { // √(64/16), by hand
		t.Errorf("64 fish and 16 fish have radii %v, want one twice the other", radii)
	}
}

func TestLargestLengthBeyondThePicture(t *testing.T) {
	p := growthSample(12)
	if s := string(p.Draw()); !strings.Contains(s, ">largest length 245 cm<") || len(found(t, p.Draw(), "line", "rule")) != 1 {
		t.Error("a largest length near the fish has no line with its name")
	}
	p.Asymptote = Of(900)
	if s := string(p.Draw()); !strings.Contains(s, "largest length 900 cm, beyond the picture") || len(found(t, p.Draw(), "line", "rule")) != 0 {
		t.Error("a largest length far from the fish isn't said to lie beyond the picture")
	}
}

func TestGroupsLookDifferent(t *testing.T) {
	looks := map[string]string{}
	svg := groupSample().Draw()
	for _, name := range []string{"Dunmarrow", "Ferrin", "Hallow", "Quarrow", "Skell"} {
		if !strings.Contains(string(svg), ">"+name+"<") {
			t.Errorf("the curve of %s has no name", name)
		}
	}
	for i := range 6 {
		look := hue(i) + " " + strconv.Itoa((i+i/4)%4)
		if twin, twice := looks[look]; twice {
			t.Errorf("groups %s and %d look alike", twin, i)
		}
		looks[look] = strconv.Itoa(i)
		class := "line-" + hue(i) + " dash-" + strconv.Itoa((i+i/4)%4)
		if i < 5 && !strings.Contains(string(svg), class) {
			t.Errorf("no curve is drawn as %s", class)
		}
	}
}

func TestProfileWithoutAnEnd(t *testing.T) {
	both, open := profileSample(false).Draw(), profileSample(true).Draw()
	if !strings.Contains(string(both), "interval 224 to 285") || len(found(t, both, "line", "line-1")) != 2 {
		t.Error("an interval with two ends isn't drawn with both")
	}
	if !strings.Contains(string(open), "from 224, without an upper end") || len(found(t, open, "line", "line-1")) != 1 {
		t.Error("an interval without an upper end isn't said and drawn so")
	}
	shade := found(t, open, "rect", "soft-1")[0]
	if right := shade.number(t, "x") + shade.number(t, "width"); math.Abs(right-506) > near { // 520 wide less 14
		t.Errorf("the shade of an interval without an end stops at %v, want the edge of the plot", right)
	}
}

// TestEllipseHoldsItsShare: the ellipse of a normal in two dimensions that holds
// 95 % lies at a squared distance of 5.991 (printed in any table of χ², 2 degrees
// of freedom).
func TestEllipseHoldsItsShare(t *testing.T) {
	const want, tol = 5.991, 0.001
	n := NurseryArea{"Upper", 3, -1, 0.5, 2, -0.7}
	ring := n.ring(0.95)
	det := n.VarX*n.VarY - n.CoXY*n.CoXY
	for i := 0; i < len(ring); i += 2 {
		x, y := ring[i]-n.MeanX, ring[i+1]-n.MeanY
		if d := (n.VarY*x*x - 2*n.CoXY*x*y + n.VarX*y*y) / det; math.Abs(d-want) > tol {
			t.Fatalf("a point of the ellipse lies at a squared distance of %.4f, want %.3f", d, want)
		}
	}
	for _, bad := range []NurseryArea{{VarX: 0, VarY: 1}, {VarX: 1, VarY: 1, CoXY: 1.1}, {VarX: math.NaN(), VarY: 1}} {
		if bad.ring(0.95) != nil {
			t.Errorf("%+v has no ellipse, and one was drawn", bad)
		}
	}
}

func TestEveryFishOutsideIsDrawn(t *testing.T) {
	p := tracerSample(3000)
	outside := 0
	for _, f := range p.Fish {
		if f.Call == CalledOutside {
			outside++
		}
	}
	crosses := 0
	for _, e := range found(t, p.Draw(), "path", "line-0") {
		if b, _ := e.extent(t); b.y0 > 70 {
			crosses++
		}
	}
	if crosses != 2*outside { // two strokes each
		t.Errorf("%d strokes of crosses for %d fish outside all nurseries, want two each", crosses, outside)
	}
	if s := string(p.Draw()); !strings.Contains(s, "called Upper, every 4th") {
		t.Error("a picture that leaves out fish doesn't say so")
	}
}

func TestStripCountsItsFish(t *testing.T) {
	p := posteriorSample(5000, 2)
	number := map[int]int{}
	for _, f := range p.Fish {
		number[f.Call]++
	}
	s := p.Draw()
	for call, name := range map[int]string{0: "Upper", 1: "Lower", CalledUnclear: "unclear", CalledOutside: "unlike all"} {
		if want := fmt.Sprintf(">%s: %s<", name, count(number[call], "fish")); !strings.Contains(string(s), want) {
			t.Errorf("the strip doesn't say %q", want)
		}
	}
	for _, e := range found(t, s, "path", "layer-1") {
		if n := strings.Count(e.attr["d"], "L"); n > 2*mostColumns+4 {
			t.Errorf("a layer of 5 000 fish has %d points, want at most two a column", n)
		}
	}
}

// TestStripHeights: three quarters of a column belong to a nursery that is three
// times as likely as the other.
func TestStripHeights(t *testing.T) {
	s := Posteriors{Nurseries: []string{"Upper", "Lower"}, Fish: []PosteriorFish{{[]float64{0.75, 0.25}, 0}}}.Draw()
	whole, _ := found(t, s, "path", "layer-1")[0].extent(t)
	upper, _ := found(t, s, "path", "soft-2")[0].extent(t)
	if got := (upper.y1 - upper.y0) / (whole.y1 - whole.y0); math.Abs(got-0.25) > 0.001 {
		t.Errorf("the nursery with a quarter fills %.3f of its column", got)
	}
}

func TestFewFishAreHollow(t *testing.T) {
	shares := []CompositionShare{{Of(0.4), Between(0.2, 0.6)}}
	p := Compositions{Nurseries: []string{"Upper"}, Groups: []CompositionGroup{{"Quarrow", 10, shares}, {"Skell", 9, shares}}}
	s := string(p.Draw())
	if !strings.Contains(s, ">10 fish<") || !strings.Contains(s, ">9 fish, few<") {
		t.Error("a group of 9 fish is said to be few, one of 10 not: want both said")
	}
	if hollow := len(found(t, p.Draw(), "rect", "open")); hollow != 2 { // the mark, and its explanation
		t.Errorf("%d hollow intervals, want that of 9 fish and its explanation", hollow)
	}
}

func TestNurseriesShareOneScale(t *testing.T) {
	p := CatchParts{Ages: []int{3}, Unit: "fish", Parts: []CatchPart{
		{"Upper", []Amount{Of(900)}, []Interval{Between(800, 1000)}}, {"Lower", []Amount{Of(300)}, []Interval{Between(250, 380)}}}}
	s := p.Draw()
	bars := found(t, s, "rect", "soft-1")
	if got := bars[0].number(t, "height") / bars[1].number(t, "height"); math.Abs(got-3) > 0.01 {
		t.Errorf("900 and 300 fish stand as %.3f to one, want three", got)
	}
	whiskers := 0
	for _, e := range found(t, s, "line", "thick") {
		if e.number(t, "y1") > 30 {
			whiskers++
		}
	}
	if whiskers != 2 {
		t.Errorf("%d intervals are drawn, want both", whiskers)
	}
}

func TestDifferencesAcrossZeroAreHollow(t *testing.T) {
	p := Ranges{Zero: true, Rows: []Range{{Name: "clear", Value: Of(2), Interval: Between(1, 3)}, {Name: "across", Value: Of(2), Interval: Between(-1, 5)}, {Name: "touching", Value: Of(2), Interval: Between(0, 4)}}}
	s := p.Draw()
	if full, hollow := len(found(t, s, "line", "thick"))-1, len(found(t, s, "rect", "open"))-1; full != 1 || hollow != 2 {
		t.Errorf("%d full and %d hollow intervals, want 1 and 2: one that holds zero is hollow", full, hollow)
	}
	zero := found(t, s, "line", "zero")
	if len(zero) != 1 {
		t.Fatalf("%d lines of no difference, want one", len(zero))
	}
	p.Zero = false
	if n := len(found(t, p.Draw(), "line", "zero")); n != 0 {
		t.Errorf("estimates that are no differences have %d lines of no difference", n)
	}
}

func TestHalvingIsAStraightLine(t *testing.T) {
	p := CatchCurve{Unit: "fish"}
	for age := range 6 {
		n := 6400 / math.Pow(2, float64(age))
		p.Ages = append(p.Ages, CurveAge{Age: age, Number: n, Interval: Between(n*0.9, n*1.1), Used: true})
	}
	var heights []float64
	for _, e := range found(t, p.Draw(), "line", "line-1") {
		if y := e.number(t, "y1"); y == e.number(t, "y2") && y > 30 { // the explanation stands above
			heights = append(heights, y)
		}
	}
	for i := 2; i < len(heights); i++ {
		if a, b := heights[1]-heights[0], heights[i]-heights[i-1]; math.Abs(a-b) > 2*near {
			t.Errorf("a catch that halves each year falls %v and then %v pixels", a, b)
		}
	}
}

// TestMapShrinksLongitude: at 60° a degree of longitude is half as long as one of
// latitude (cos 60° = 1/2, by hand).
func TestMapShrinksLongitude(t *testing.T) {
	p := AreaMap{Areas: []MapArea{{Name: "Quarrow", Value: Of(1), Rings: [][]float64{{-10, 59, -8, 59, -8, 61, -10, 61}}}}}
	b, _ := found(t, p.Draw(), "path", "tint-5")[0].extent(t)
	if got := (b.x1 - b.x0) / (b.y1 - b.y0); math.Abs(got-0.5) > 0.001 {
		t.Errorf("two degrees east by two north are %.4f as wide as high, want one half", got)
	}
}

func TestMapAcrossTheLine(t *testing.T) {
	s := mapSample(177.5).Draw()
	for _, e := range found(t, s, "path", "fill-1") {
		if b, _ := e.extent(t); b.x1-b.x0 > 300 {
			t.Errorf("an area across 180° is drawn %v pixels wide", b.x1-b.x0)
		}
	}
	if !strings.Contains(string(s), ">178° W<") || !strings.Contains(string(s), ">176° E<") {
		t.Error("longitudes on both sides of 180° aren't named east and west")
	}
}

func TestTints(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want int
	}{{0, 1}, {20, 1}, {20.1, 2}, {60, 3}, {100, 5}, {-3, 1}} {
		if got := tint(c.x, 100); got != c.want {
			t.Errorf("%v of 100 is tinted in step %d, want %d", c.x, got, c.want)
		}
	}
}

func TestMiddleOfAnArea(t *testing.T) {
	// An L of three unit squares: centre of gravity (5/6, 5/6), by hand.
	x, y := middle([][]float64{{0, 0, 2, 0, 2, 1, 1, 1, 1, 2, 0, 2}, {9, 9, 9.1, 9, 9, 9.1}})
	if math.Abs(x-5.0/6) > 1e-12 || math.Abs(y-5.0/6) > 1e-12 {
		t.Errorf("the middle of the larger ring is %v, %v, want 5/6, 5/6", x, y)
	}
}

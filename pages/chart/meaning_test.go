package chart

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// found collects the elements of a picture that carry a class, in order.
func found(t fataler, s SVG, name, class string) []*element {
	var out []*element
	parse(t, s).walk(func(e *element) {
		if e.name == name && e.has(class) {
			out = append(out, e)
		}
	})
	return out
}

// near is half of the last decimal that coordinates are written with, twice:
// a length is the difference of two of them. By hand.
const near = 0.011

func TestBarsFromZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		numbers := rapid.SliceOfN(rapid.Float64Range(1, 1e6), 2, 15).Draw(t, "numbers")
		p := CatchAtAge{Unit: "fish"}
		for i, n := range numbers {
			p.Ages = append(p.Ages, CatchBar{Age: i, Number: n, Interval: Between(n, n)})
		}
		bars := found(t, p.Draw(), "rect", "soft-1")
		if len(bars) != len(numbers) {
			t.Fatalf("%d bars for %d ages", len(bars), len(numbers))
		}
		first := bars[0].number(t, "height")
		for i, b := range bars {
			want := first * numbers[i] / numbers[0]
			if got := b.number(t, "height"); math.Abs(got-want) > near*(1+numbers[i]/numbers[0]) {
				t.Errorf("the bar of %v is %v high, want %v: in proportion to that of %v", numbers[i], got, want, numbers[0])
			}
		}
	})
}

func TestFilledPartIsHatched(t *testing.T) {
	s := CatchAtAge{Unit: "fish", Ages: []CatchBar{{Age: 3, Number: 100, Interval: Between(80, 120), Filled: 25}}}.Draw()
	bar := found(t, s, "rect", "soft-1")[0].number(t, "height")
	part := found(t, s, "rect", "fill-paper")[0].number(t, "height")
	if math.Abs(part-bar/4) > near { // 25 of 100: by hand
		t.Errorf("25 of 100 fish from filled strata are %v of %v pixels, want a quarter", part, bar)
	}
	if len(found(t, s, "path", "hatch")) != 2 { // the part, and its explanation
		t.Errorf("the part from filled strata isn't hatched and explained")
	}
}

func TestUnknownIntervalIsOpen(t *testing.T) {
	known := CatchAtAge{Ages: []CatchBar{{Age: 3, Number: 100, Interval: Between(80, 120)}}}.Draw()
	if n := len(found(t, known, "circle", "open")); n != 0 {
		t.Errorf("a known interval drew %d open marks, want none", n)
	}
	for _, i := range []Interval{{}, Between(math.NaN(), 3), Between(5, math.Inf(1)), Between(2, 1)} {
		s := CatchAtAge{Ages: []CatchBar{{Age: 3, Number: 100, Interval: i}}}.Draw()
		if n := len(found(t, s, "circle", "open")); n != 2 { // the mark, and its explanation
			t.Errorf("interval %v drew %d open circles, want the mark and its explanation", i, n)
		}
		if n := len(found(t, s, "line", "thick")); n != 0 {
			t.Errorf("interval %v drew %d interval strokes, want none", i, n)
		}
		if !strings.Contains(string(s), "interval unknown") {
			t.Errorf("interval %v isn't called unknown in words", i)
		}
	}
}

func TestWordsOnMarks(t *testing.T) {
	s := CatchAtAge{Frame: Frame{Level: 0.95}, Unit: "fish", Plus: true, Ages: []CatchBar{{Age: 12, Number: 12345, Interval: Between(10000, 15000)}}}.Draw()
	want := "<title>age 12+: 12\u202f300 fish, 95\u202f% interval 10\u202f000 to 15\u202f000</title>"
	if !strings.Contains(string(s), want) {
		t.Errorf("the bar of age 12+ doesn't say %q", want)
	}
}

func TestBubbleAreas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		small := rapid.IntRange(5, 50).Draw(t, "small")
		large := rapid.IntRange(small, 200).Draw(t, "large")
		for _, p := range []picture{
			Differences{Points: []DifferencePoint{{2, 0, large}, {6, 0, small}}},
			Marks{Cells: []Cell{{2, 2, large}, {6, 6, small}}},
			Cohorts{Marks: []CohortMark{{2020, 2, float64(large)}, {2021, 3, float64(small)}}, Named: []int{2018}},
		} {
			var radii []float64
			parse(t, p.Draw()).walk(func(e *element) {
				if e.name == "circle" && (e.has("fill-1") || e.has("fill-2")) {
					radii = append(radii, e.number(t, "r"))
				}
			})
			if len(radii) != 2 {
				t.Fatalf("%T drew %d marks, want 2", p, len(radii))
			}
			want := float64(small) / float64(large)
			if got := radii[1] * radii[1] / (radii[0] * radii[0]); math.Abs(got-want) > 0.01 {
				t.Errorf("%T: %d of %d fish have %.3f of the area, want %.3f", p, small, large, got, want)
			}
		}
	})
}

func TestEqualAgesLine(t *testing.T) {
	s := AgeBias{Points: []BiasPoint{{2, 2, Between(1.9, 2.1), 9}, {8, 8, Between(7, 9), 5}}}.Draw()
	rule := found(t, s, "line", "rule")[0]
	slope := (rule.number(t, "y1") - rule.number(t, "y2")) / (rule.number(t, "x2") - rule.number(t, "x1"))
	for _, e := range found(t, s, "line", "line-1") {
		if e.has("thick") || e.number(t, "y1") < 40 { // the explanation stands above
			continue
		}
		x := (e.number(t, "x1") + e.number(t, "x2")) / 2
		want := rule.number(t, "y1") - slope*(x-rule.number(t, "x1"))
		if got := e.number(t, "y1"); math.Abs(got-want) > 2*near {
			t.Errorf("a mean equal to its age lies at y = %v, want %v: on the line of equal ages", got, want)
		}
	}
}

func TestBasisFillsTheBar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shares := rapid.SliceOfN(rapid.Float64Range(0.001, 10), 1, 6).Draw(t, "shares")
		p := Basis{}
		total := 0.0
		for i, s := range shares {
			p.Parts = append(p.Parts, Part{Name: "part of the catch", Share: s, Look: Look(i % 4)})
			total += s
		}
		s := p.Draw()
		checkPicture(t, s)
		x := 4.0
		for i, g := range parse(t, s).children[2].children {
			b, _ := g.children[len(g.children)-1].extent(t)
			if want := x + shares[i]/total*512; math.Abs(b.x0-x) > 2*near || math.Abs(b.x1-want) > 4*near {
				t.Errorf("part %d runs from %v to %v, want %v to %v", i, b.x0, b.x1, x, want)
			}
			x = b.x1
		}
	})
}

func TestOneYearOfCohorts(t *testing.T) {
	one, two := string(cohortSample(2023, 2023).Draw()), string(cohortSample(2022, 2023).Draw())
	if !strings.Contains(one, "one year so far") || strings.Contains(two, "one year so far") {
		t.Errorf("the picture of one year says so: %t; that of two: %t", strings.Contains(one, "one year so far"), strings.Contains(two, "one year so far"))
	}
}

func TestStrongestCohortsAreNamed(t *testing.T) {
	s := string(cohortSample(2014, 2023).Draw())
	for _, birth := range []string{"2012", "2016", "2018"} { // the strong ones of the sample that are seen longest
		if !strings.Contains(s, ">born "+birth+"<") {
			t.Errorf("the cohort of %s isn't named", birth)
		}
	}
}

func TestKeyBasis(t *testing.T) {
	p := KeySurface{Ages: []int{1, 2}, Unit: "cm", Panels: []KeyPanel{{Name: "Skell", Bins: []KeyBin{
		{10, 15, []float64{1, 0}, 8, Own}, {15, 20, []float64{0.5, 0.5}, 4, Borrowed}, {20, 25, nil, 0, Unaged}, {25, 30, []float64{0, 1}, 3, Own},
	}}}}
	s := string(p.Draw())
	for _, want := range []string{"15–20 cm: borrowed, rests on 4 aged fish", "20–25 cm: no key, fish stay unaged"} {
		if !strings.Contains(s, want) {
			t.Errorf("the key doesn't say %q", want)
		}
	}
	if n := len(aged(p.Panels[0].Bins)); n != 2 {
		t.Errorf("curves run in %d pieces, want 2: none across the bin without a key", n)
	}
	defer func() {
		if recover() == nil {
			t.Errorf("a bin with one share for two ages was drawn")
		}
	}()
	p.Panels[0].Bins[0].Shares = []float64{1}
	p.Draw()
}

// TestManyAgesKeepClear draws a key of twenty ages, more than have room.
func TestManyAgesKeepClear(t *testing.T) {
	p := KeySurface{Unit: "cm", Plus: true, Panels: make([]KeyPanel, 1)}
	for a := 1; a <= 20; a++ {
		p.Ages = append(p.Ages, a)
	}
	for from := 40.0; from < 200; from += 4 {
		b := KeyBin{From: from, To: from + 4}
		for _, a := range p.Ages {
			b.Shares = append(b.Shares, 0.6*bell(from, 210*(1-math.Exp(-0.12*float64(a))), 6))
		}
		p.Panels[0].Bins = append(p.Panels[0].Bins, b)
	}
	for _, p.Stacked = range []bool{false, true} {
		var names []*element
		for _, e := range found(t, p.Draw(), "text", "middle") {
			if e.has("strong") && e.number(t, "y") > 40 { // the explanation stands above
				names = append(names, e)
			}
		}
		last := false
		for i, a := range names {
			last = last || a.text == "20+"
			for _, b := range names[:i] {
				dx, dy := math.Abs(a.number(t, "x")-b.number(t, "x")), math.Abs(a.number(t, "y")-b.number(t, "y"))
				if dx < (textWidth(a.text, smallSize)+textWidth(b.text, smallSize))/2 && dy < smallSize-near {
					t.Errorf("stacked %t: ages %s and %s are written over one another", p.Stacked, a.text, b.text)
				}
			}
		}
		if len(names) < 8 || !last {
			t.Errorf("stacked %t: %d ages are named, the oldest among them: %t; want 8 or more and the oldest", p.Stacked, len(names), last)
		}
	}
}

func TestTwoErrorsSayTheGap(t *testing.T) {
	p := TwoErrors{Unit: "fish", Ages: []TwoError{{3, Of(125), Of(100)}, {4, Of(115), Of(100)}, {5, Of(75), Of(100)}}}
	s := string(p.Draw())
	for words, want := range map[string]bool{">+25\u202f%<": true, ">+15\u202f%<": false, ">−25\u202f%<": true} { // by hand
		if strings.Contains(s, words) != want {
			t.Errorf("the picture says %q: %t, want %t", words, !want, want)
		}
	}
}

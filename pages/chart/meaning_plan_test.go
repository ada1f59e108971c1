package chart

import (
	"math"
	"strings"
	"testing"
)

// The parts of a bar are as long as their shares, a negative share has none, and what is
// left is open and named: 1 − 0.6 − 0.3 is a tenth, by hand.
func TestSharesFillTheBar(t *testing.T) {
	s := Budget{Together: "together", Bars: []BudgetBar{{Name: "catch", Parts: []BudgetPart{{"trips", 0, 0.6, 0.04}, {"stones", 2, 0.3, 0.02}, {"readers", 1, -0.02, 0.03}}}}}.Draw()
	wide := func(class string) float64 { return found(t, s, "rect", class)[0].number(t, "width") }
	if trips, stones, rest := wide("fill-1"), wide("soft-1"), wide("open"); math.Abs(trips/stones-2) > 0.001 || math.Abs(trips/rest-6) > 0.001 {
		t.Errorf("shares of 0.6, 0.3 and the rest are %v, %v and %v wide", trips, stones, rest)
	}
	for _, said := range []string{">trips 60 ± 4\u202f%<", ">stones 30 ± 2\u202f%<", ">together 10\u202f%<"} {
		if !strings.Contains(string(s), said) {
			t.Errorf("the bar doesn't say %q", said)
		}
	}
	if strings.Contains(string(s), "readers") {
		t.Error("a share below nothing is drawn")
	}
	full := Budget{Together: "together", Bars: []BudgetBar{{Parts: []BudgetPart{{"trips", 0, 0.8, 0.1}, {"stones", 2, 0.4, 0.1}}}}}.Draw()
	if strings.Contains(string(full), "together") {
		t.Error("shares that come out above the whole leave a rest")
	}
	if a, b := found(t, full, "rect", "fill-1")[0].number(t, "width"), found(t, full, "rect", "soft-1")[0].number(t, "width"); math.Abs(a/b-2) > 0.001 {
		t.Errorf("shares of 0.8 and 0.4 are %v and %v wide", a, b)
	}
}

// No two sources look alike, colour left out of account: of those of one surface each has
// its words beside it, and every part does.
func TestEveryPartIsNamed(t *testing.T) {
	p := budgetSample()
	s := string(p.Draw())
	for _, b := range p.Bars {
		parts, _ := p.parts(b)
		for _, d := range parts {
			if !strings.Contains(s, ">"+d.said()+"<") {
				t.Errorf("the part %q of %s carries no words", d.said(), b.Name)
			}
		}
	}
	seen := map[string]string{}
	for look := range looks {
		c := &canvas{width: 100}
		BudgetPart{Look: look}.draw(c, box{0, 0, 50, 20})
		if twin, twice := seen[c.b.String()]; twice {
			t.Errorf("look %d is drawn as look %s", look, twin)
		}
		seen[c.b.String()] = string(rune('0' + look))
	}
}

// A mark stands on the curve: halfway between two points at the mean of their yields.
func TestMarksStandOnTheCurve(t *testing.T) {
	p := PerRecruit{Curve: []RecruitPoint{{F: 0}, {F: 0.2, Yield: 10}, {F: 0.4, Yield: 14}}, Marks: []RecruitMark{{"F0.1", 0.3, Between(0.2, 0.4)}}}
	if y, ok := p.yieldAt(0.3); !ok || y != 12 {
		t.Errorf("the yield at 0.3 is %v, want 12", y)
	}
	if _, ok := p.yieldAt(0.5); ok {
		t.Error("beyond its last point the curve has a yield")
	}
	s := p.Draw()
	foot := found(t, s, "circle", "fill-2")
	line := found(t, s, "line", "rule")
	if len(foot) != 1 || len(line) != 1 || math.Abs(foot[0].number(t, "cy")-line[0].number(t, "y2")) > near {
		t.Errorf("%d marks and %d lines down to the curve, want one that ends on the other", len(foot), len(line))
	}
	if !strings.Contains(string(s), ">F0.1 0.300<") {
		t.Error("the mark has no name with its value")
	}
}

// The three intervals of a year stand in their order, told apart by form and by name.
func TestSamplingSideBySide(t *testing.T) {
	s := Ahead{Less: "half", Today: "today", More: "twice", Years: []string{"2032"}, Panels: []AheadPanel{{Name: "Yield", Points: []AheadPoint{{Of(10), Between(4, 16), Between(6, 14), Between(7, 13)}}}}}.Draw()
	less := found(t, s, "rect", "open")
	if len(less) != 1 {
		t.Fatalf("%d hollow intervals, want that of less sampling", len(less))
	}
	tall := less[0].number(t, "height")
	for _, e := range found(t, s, "line", "line-1") {
		if x0, x1 := e.number(t, "x1"), e.number(t, "x2"); x0 == x1 && e.number(t, "y1") > 30 {
			want := 8.0 / 12
			if !e.has("thick") {
				want = 6.0 / 12
			}
			if got := (e.number(t, "y2") - e.number(t, "y1")) / tall; math.Abs(got-want) > 0.001 {
				t.Errorf("an interval is %.3f of the widest, want %.3f", got, want)
			}
		}
	}
	for _, name := range []string{">half<", ">today<", ">twice<", ">2032<"} {
		if !strings.Contains(string(s), name) {
			t.Errorf("the picture doesn't say %s", name)
		}
	}
}

func TestPanelsHaveTheirOwnScales(t *testing.T) {
	s := ByAge{Ages: []int{3}, Panels: []AgePanel{{"Fish", "fish", []Amount{Of(9000)}, make([]Interval, 1)}, {"F", "a year", []Amount{Of(0.9)}, make([]Interval, 1)}}}.Draw()
	bars := found(t, s, "rect", "soft-1")
	if len(bars) != 2 || math.Abs(bars[0].number(t, "height")-bars[1].number(t, "height")) > near {
		t.Errorf("9 000 fish and an F of 0.9 don't fill their panels alike")
	}
	if n := len(found(t, s, "circle", "open")); n != 3 { // both marks, and their explanation
		t.Errorf("%d open circles for two unknown intervals and their explanation", n)
	}
}

func TestPromisesStandOnOneScale(t *testing.T) {
	s := Promised{Rows: []Promise{{"age 3", Of(0.2), Of(0.1), Of(0.15)}}}.Draw()
	var circle, square, stroke float64
	for _, e := range found(t, s, "circle", "open") {
		circle = e.number(t, "cx")
	}
	for _, e := range found(t, s, "rect", "fill-2") {
		square = e.number(t, "x") + e.number(t, "width")/2
	}
	for _, e := range found(t, s, "line", "line-0") {
		stroke = e.number(t, "x1")
	}
	if math.Abs((circle-stroke)-(stroke-square)) > 2*near || circle <= stroke {
		t.Errorf("CVs of 0.2, 0.15 and 0.1 stand at %v, %v and %v, want them evenly from right to left", circle, stroke, square)
	}
	if !strings.Contains(string(s), "age 3, as now 20\u202f%, planned 10\u202f%, wanted 15\u202f%") {
		t.Error("the row does not say its CVs")
	}
}

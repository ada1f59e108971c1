package label

import (
	"slices"
	"testing"

	"earstone/programme/date"
	"pgregory.net/rapid"
)

func rangeOf(t testing.TB, from, to int) Range {
	t.Helper()
	return Range{mustNew(t, "QB", from), mustNew(t, "QB", to)}
}

func TestNoCodeIsGivenOutTwice(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var roll Roll
		given := map[Code]bool{}
		for range rapid.IntRange(1, 20).Draw(rt, "kits") {
			prefix := rapid.SampledFrom([]string{"QB", "QBA", "VX"}).Draw(rt, "prefix")
			next, ok := roll.Next(prefix, rapid.IntRange(1, 30).Draw(rt, "n"))
			if !ok {
				rt.Fatalf("no range of %s is left", prefix)
			}
			for i := range next.Count() {
				if given[next.At(i)] {
					rt.Fatalf("%s is given out again", next.At(i))
				}
				given[next.At(i)] = true
			}
			// Whether the kit is used, cancelled or one stray label of it comes back: it is on the roll.
			roll.Enter(next.At(rapid.IntRange(0, next.Count()-1).Draw(rt, "stray")))
			roll.Enter(next.Last)
		}
	})
}

func TestRollRunsOut(t *testing.T) {
	var roll Roll
	roll.Enter(mustNew(t, "QB", LargestNumber-1))
	roll.Enter(Code{})
	if next, ok := roll.Next("QB", 1); !ok || next.First.Number() != LargestNumber {
		t.Errorf("the last code is %v, %t", next, ok)
	}
	for _, c := range []struct {
		prefix string
		n      int
	}{{"QB", 2}, {"QB", 0}, {"Q0", 1}} {
		if next, ok := roll.Next(c.prefix, c.n); ok {
			t.Errorf("%d codes of %s are %v, want none", c.n, c.prefix, next)
		}
	}
}

func TestRanges(t *testing.T) {
	r := rangeOf(t, 10, 12)
	if r.Count() != 3 || r.At(2).Number() != 12 || !r.Holds(mustNew(t, "QB", 11)) || r.Holds(mustNew(t, "QBA", 11)) || r.Holds(Code{}) {
		t.Errorf("the range 10 to 12 counts %d", r.Count())
	}
	if (Range{}).Count() != 0 || (Range{}).Holds(Code{}) || (Range{r.Last, r.First}).Count() != 0 {
		t.Error("a range of nothing holds something")
	}
	kits := []Kit{{Codes: rangeOf(t, 20, 30)}, {Codes: rangeOf(t, 1, 9)}, {Codes: rangeOf(t, 30, 40)}, {Codes: rangeOf(t, 22, 23)}, {}}
	if got, want := Twice(kits), [][2]int{{0, 3}, {0, 2}}; !slices.Equal(got, want) {
		t.Errorf("kits that share codes are %v, want %v", got, want)
	}
}

func TestStock(t *testing.T) {
	day := date.On(2031, 5, 2)
	kits := []Kit{
		{Kit: "K1", Codes: rangeOf(t, 1, 3), SentOn: day, Reward: "a cap", PromisedOn: day},
		{Kit: "K2", Codes: rangeOf(t, 4, 5), SentOn: day, ThankedOn: day},
		{Kit: "K3", Codes: rangeOf(t, 6, 9), SentOn: day, CancelledOn: day, Why: "lost at sea"},
		{Kit: "K4", Codes: rangeOf(t, 10, 12)},
		{Kit: "K5", Codes: rangeOf(t, 13, 14), SentOn: day, PromisedOn: day},
	}
	came := []Code{mustNew(t, "QB", 1), mustNew(t, "QB", 1), mustNew(t, "QB", 4), mustNew(t, "QB", 5), mustNew(t, "QB", 7), mustNew(t, "VX", 1), {}}
	want := []struct {
		state          State
		back           int
		thanks, reward bool
		after          int
	}{{Part, 1, true, true, 0}, {Whole, 2, false, false, 0}, {Cancelled, 1, true, false, 1}, {InStock, 0, false, false, 0}, {Out, 0, false, false, 0}}
	for i, s := range Stock(kits, came) {
		w := want[i]
		if s.State != w.state || s.Back != w.back || s.OwedThanks != w.thanks || s.OwedReward != w.reward || len(s.After) != w.after {
			t.Errorf("kit %s is %v with %d back, thanks owed %t, reward owed %t, %d after; want %v", s.Kit.Kit, s.State, s.Back, s.OwedThanks, s.OwedReward, len(s.After), w)
		}
	}
}

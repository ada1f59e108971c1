package fishery

import (
	"math"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
)

// Masses follow length and age with the powers and the spread set: a regression of
// logarithms over the stones of a season, those that are read and those that are not.
func TestMassesFollowLengthAndAge(t *testing.T) {
	s := sized(t, "season")
	s.MassA, s.MassByLength, s.MassByAge, s.MassSpread = 1.2, 0.7, 0.3, 0.08
	s.WeighedOnly = 5_000
	e := Invent(s, 81)
	for _, part := range []struct {
		name        string
		first, last int
	}{{"read", 0, 5_000}, {"weighed only", 5_000, 10_000}} {
		var xx [3][3]float64
		var xy [3]float64
		yy, ages := 0.0, e.TrueAges()
		for i := part.first; i < part.last; i++ {
			y := math.Log(e.book.Stones[i].MassMg.X)
			x := [3]float64{1, math.Log(e.book.Fish[i].Length.Value.X) - 5, math.Log(float64(ages[i])) - 1.5}
			yy += y * y
			for j := range x {
				xy[j] += x[j] * y
				for k := range x {
					xx[j][k] += x[j] * x[k]
				}
			}
		}
		b, inverse := solve(xx, xy)
		rest := yy
		for j := range b {
			rest -= b[j] * xy[j]
		}
		sd := math.Sqrt(rest / 4_997)
		want := [3]float64{math.Log(1.2) + 0.7*5 + 0.3*1.5, 0.7, 0.3}
		for j := range b {
			if se := sd * math.Sqrt(inverse[j]); math.Abs(b[j]-want[j]) > 4*se || se > 0.05 {
				t.Errorf("coefficient %d of the masses of fish %s = %.4f, want %.4f (SE %.4f)", j, part.name, b[j], want[j], se)
			}
		}
		if math.Abs(sd-0.08) > 0.004 { // SE 0.0008, and masses are to a tenth of a mg
			t.Errorf("masses of fish %s scatter by %.4f, want 0.08", part.name, sd)
		}
	}
}

// solve is the solution of three equations and the diagonal of the inverse, by
// cofactors.
func solve(a [3][3]float64, y [3]float64) (b, inverse [3]float64) {
	minor := func(r, c int) float64 {
		p, q := (r+1)%3, (r+2)%3
		u, v := (c+1)%3, (c+2)%3
		return a[p][u]*a[q][v] - a[p][v]*a[q][u]
	}
	det := a[0][0]*minor(0, 0) + a[0][1]*minor(0, 1) + a[0][2]*minor(0, 2)
	for j := range b {
		for k := range y {
			b[j] += minor(k, j) * y[k] / det
		}
		inverse[j] = minor(j, j) / det
	}
	return b, inverse
}

// Fish that are weighed only are other fish than those aged: of each cm of a trip no more
// have a card than were measured. They are a random sample of the rest.
func TestWeighedFishAreOthersOfTheMeasured(t *testing.T) {
	s := sized(t, "small")
	s.WeighedOnly = 5_000
	e := Invent(s, 82)
	type spot struct {
		trip int32
		cm   int16
	}
	left := map[spot]int{}
	for _, row := range e.rows {
		left[spot{row.trip, row.cm}] = int(row.count)
	}
	for i := range len(e.picked) + len(e.weighed) {
		x := e.ofCatch(i)
		left[spot{x.trip, x.cm}]--
		if at := (spot{x.trip, x.cm}); left[at] < 0 {
			t.Fatalf("more fish of %d cm have a card than were measured on trip %d", x.cm, x.trip)
		}
	}
	if len(e.weighed) != 5_000 {
		t.Errorf("%d fish were weighed only, want 5,000", len(e.weighed))
	}
	rest, weighed := 0.0, 0.0
	s.WeighedOnly = 1_000
	const seasons = 40
	f := New(s, 83)
	square := 0.0
	for b := range seasons {
		e := f.drawSeason(b)
		sum, n, got := 0.0, 0.0, 0.0
		for _, row := range e.rows {
			sum, n = sum+float64(row.cm)*float64(row.count), n+float64(row.count)
		}
		for _, x := range e.picked {
			sum, n = sum-float64(x.cm), n-1
		}
		for _, x := range e.weighed {
			got += float64(x.cm) / 1_000
		}
		rest, weighed = rest+sum/n/seasons, weighed+got/seasons
		square += (got - sum/n) * (got - sum/n) / seasons
	}
	if off, se := weighed-rest, math.Sqrt(square/seasons); math.Abs(off) > 4*se || se > 0.3 {
		t.Errorf("fish weighed only measure %.2f cm in the mean, the rest of the measured %.2f (SE %.2f)", weighed, rest, se)
	}
}

func TestChippedStonesAsSet(t *testing.T) {
	s := sized(t, "season")
	s.ChippedStones = 0.2
	e, chipped := Invent(s, 84), 0.0
	n := len(e.picked) + len(e.weighed) + len(e.assayed)
	for _, stone := range e.book.Stones[:n] {
		if stone.MassMg.Known != (stone.Condition == "whole") {
			t.Errorf("a %s stone of %s has the mass %v", stone.Condition, stone.Fish, stone.MassMg)
		}
		if stone.Condition == "chipped" {
			chipped++
		}
	}
	if math.Abs(chipped/5_900-0.2) > 4*math.Sqrt(0.2*0.8/5_900) || n != 5_900 {
		t.Errorf("%v of %d stones are chipped, want a fifth of 5,900", chipped, n)
	}
}

// A fish of known age is as old as its cohort says on the day of its catch.
func TestKnownAgesAreTrue(t *testing.T) {
	s := sized(t, "small")
	s.KnownAges = 60
	e := Invent(s, 85)
	at := map[record.FishID]int{}
	for i, fish := range e.book.Fish[:len(e.picked)] {
		at[fish.Fish] = i
	}
	for _, k := range e.book.KnownAges {
		i, there := at[k.Fish]
		if !there {
			t.Fatalf("fish %s of known age is not one of the aged", k.Fish)
		}
		delete(at, k.Fish)
		x := e.picked[i]
		born := date.On(2031-int(x.age), 6, 1).Serial()
		if want := float64(int(x.day)-born) / 365.25; math.Abs(k.DecimalAge-want) > 0.00501 || k.Basis == "" {
			t.Errorf("fish %s is %.2f years old, want %.3f", k.Fish, k.DecimalAge, want)
		}
	}
	if len(e.book.KnownAges) != 60 {
		t.Errorf("the age of %d fish is known, want 60", len(e.book.KnownAges))
	}
}

// One weight equation of the programme's own stands beside whatever is published.
func TestConversionsStandWhereNeeded(t *testing.T) {
	s := sized(t, "small")
	for _, mixed := range []float64{0, 0.3} {
		s.MixedKinds = mixed
		n := map[string]int{}
		for _, c := range Invent(s, 86).book.Conversions {
			n[c.Quantity]++
		}
		length := 0
		if mixed > 0 {
			length = 1
		}
		if n["weight"] != 1 || n["length"] != length {
			t.Errorf("with a share of %v curved lengths there are %d equations for weights and %d for lengths, want 1 and %d",
				mixed, n["weight"], n["length"], length)
		}
	}
}

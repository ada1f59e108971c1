package key

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// massed are fish of two ages at one length and a key of them, stones of 20 l^0.5 (a+½)^0.4/10
// mg, scattered by so much; the age follows the length not at all.
func massed(scatter float64, byAge float64) (Sample, []MassFish) {
	r := rand.New(rand.NewPCG(8, 1))
	s := Sample{Grid: Grid{Bins: 2, Ages: 4, Mid: []float64{100, 110}, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}}}
	var fish []MassFish
	for trip := range int32(40) {
		for range 10 {
			bin, age := int32(r.IntN(2)), int32(r.IntN(4))
			length := 95 + 10*float64(bin) + 10*r.Float64()
			mass := 2 * math.Sqrt(length) * math.Pow(float64(age)+0.5, byAge) * math.Exp(scatter*r.NormFloat64())
			s.Entries = append(s.Entries, Entry{Trip: trip, Bin: bin, Age: age, Pattern: -1, Fish: 1})
			fish = append(fish, MassFish{Trip: trip, Row: bin, Age: age, Length: length, MassMg: mass, Portion: 1})
		}
	}
	return s, fish
}

func TestLineOfMass(t *testing.T) {
	_, fish := massed(0.05, 0.4)
	m, err := FitMass(fish)
	if err != nil {
		t.Fatal(err)
	}
	// 400 fish: the SE of the slope on ln(a + ½) is 0.05/(√400 · 0.73) = 0.0034, of the SD 0.05/√800.
	if math.Abs(m.ByAge-0.4) > 4*0.0034 || math.Abs(m.SD-0.05) > 4*0.0018 || m.Fish != 400 {
		t.Errorf("the line is %+v, want 0.4 by age and an SD of 0.05 on 400 fish", m)
	}
}

// By hand: ln m lies on the line of age 1, and 2 SD off that of age 0: shares of an even
// row are 1/(1 + e⁻²) and the rest.
func TestSharesByMass(t *testing.T) {
	m := Mass{ByAge: 1, SD: math.Log(3) / 2} // ln(1.5) − ln(0.5) = ln 3
	shares := make([]float64, 2)
	if !m.Shares(shares, []float64{0.5, 0.5}, 100, 1.5) || math.Abs(shares[1]-1/(1+math.Exp(-2))) > 1e-12 || math.Abs(shares[0]+shares[1]-1) > 1e-12 {
		t.Errorf("the shares are %v, want %v for age 1", shares, 1/(1+math.Exp(-2)))
	}
	if m.Shares(shares, []float64{0, 0}, 100, 1.5) || m.Shares(shares, []float64{0.5, 0.5}, 100, 1e300) {
		t.Error("a row of nothing, or a mass beyond all ages, gives shares")
	}
	if shares[0] != 0.5 {
		t.Errorf("a mass beyond all ages leaves %v, want the key's row", shares)
	}
	if n := testing.AllocsPerRun(10, func() { m.Shares(shares, []float64{0.5, 0.5}, 100, 1.5) }); n > 0 {
		t.Errorf("shares allocate %v times", n)
	}
}

func TestMassIsScoredOnHeldOutFish(t *testing.T) {
	for _, c := range []struct {
		what  string
		byAge float64
		wins  bool
	}{{"a mass that tells the age", 0.4, true}, {"a mass that says nothing of age", 0, false}} {
		s, fish := massed(0.05, c.byAge)
		w, err := NewDirect(s, Borrowing{Least: 1})
		if err != nil {
			t.Fatal(err)
		}
		got, err := MassScores(s, w, fish, Scoring{})
		if err != nil {
			t.Fatal(err)
		}
		// Length says nothing: its shares are near ¼, and the score near ln ¼ = −1.386.
		if math.Abs(got.Alone+1.386) > 0.03 || got.Wins() != c.wins || got.Trips != 40 || got.Fish != 400 {
			t.Errorf("%s: scored %+v, wins %v, want %v and length alone at −1.386", c.what, got, got.Wins(), c.wins)
		}
		if !c.wins && math.Abs(got.With-got.Alone) > 0.03 {
			t.Errorf("%s costs %.3f", c.what, got.Alone-got.With)
		}
	}
}

func TestWhyMassCannotBeScored(t *testing.T) {
	s, fish := massed(0.05, 0.4)
	w, err := NewDirect(s, Borrowing{Least: 1})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := MassScores(s, w, fish[:20], Scoring{}); !errors.Is(err, ErrFewWeighed) {
		t.Errorf("20 weighed fish: %v, want too few", err)
	}
	one := append([]MassFish(nil), fish...)
	for i := range one {
		one[i].Trip = -1
	}
	if _, err := MassScores(s, w, one, Scoring{}); !errors.Is(err, ErrOneTrip) {
		t.Errorf("weighed fish of no trip: %v, want no trips", err)
	}
	for i := range one {
		one[i].Age = 2
	}
	if _, err := FitMass(one); !errors.Is(err, ErrFewWeighed) {
		t.Errorf("fish of one age: %v, want that they do not differ", err)
	}
}

func ExampleMass_Shares() {
	m := Mass{Intercept: -1, ByLength: 1, ByAge: 0.3, SD: 0.05}
	shares := make([]float64, 3)
	m.Shares(shares, []float64{0.2, 0.5, 0.3}, 100, 44)
	fmt.Printf("%.2f\n", shares)
	// Output: [0.00 0.84 0.16]
}

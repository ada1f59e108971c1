package sitting

import (
	"errors"
	"fmt"
	"hash/crc32"
	"hash/fnv"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"earstone/programme/date"
	"earstone/programme/record"
)

// pool is 60 preparations of 2031 and 2032 from two areas and 12 reference stones; every third has been
// read by R1.
func pool() []Candidate {
	var all []Candidate
	for i := range 60 {
		c := Candidate{
			Preparation: fmt.Sprintf("P-%03d", i), Image: fmt.Sprintf("I-%03d", i), Fish: record.FishID(fmt.Sprintf("QB-%03d", i)),
			Species: "BFT", Area: []string{"Quarrow", "Skell"}[i%2], CaughtOn: date.On(2031+i/30, 8, 14),
		}
		if i%3 == 0 {
			c.ReadBy = []record.ReaderID{"R1"}
		}
		all = append(all, c)
	}
	for i := range 12 {
		all = append(all, Candidate{
			Preparation: fmt.Sprintf("REF-%02d", i), Image: fmt.Sprintf("R-%02d", i), Fish: record.FishID(fmt.Sprintf("DM-%02d", i)),
			Species: "BFT", Area: "Dunmarrow", CaughtOn: date.On(2025, 7, 1), Reference: true, ReadBy: make([]record.ReaderID, 0),
		})
	}
	return all
}

func choose(t testing.TB, rule Rule, reader record.ReaderID, seed uint64) Set {
	t.Helper()
	set, err := Choose(pool(), rule, reader, seed)
	if err != nil {
		t.Fatalf("No sitting for %+v: %v", rule, err)
	}
	return set
}

func TestRules(t *testing.T) {
	for _, c := range []struct {
		what     string
		rule     Rule
		reader   record.ReaderID
		read     int
		controls int
	}{
		{"all that nobody has read", Rule{}, "R2", 40, 4},
		{"all that R1 has not read", Rule{Choose: UnreadByReader}, "R1", 40, 4},
		{"all that R2 has not read", Rule{Choose: UnreadByReader, Most: 100}, "R2", 60, 6},
		{"one season", Rule{Seasons: []int{2032}}, "R2", 20, 2},
		{"one area", Rule{Areas: []string{"Skell"}}, "R2", 20, 2},
		{"no more than 7", Rule{Most: 7}, "R2", 7, 1},
		{"a quarter of controls", Rule{Most: 8, Controls: 0.25}, "R2", 8, 2},
		{"more controls than there are", Rule{Controls: 1}, "R2", 40, 12},
		{"no controls", Rule{Controls: -1}, "R2", 40, 0},
		{"two named ones, one of them a reference stone", Rule{Choose: Again, Named: []string{"P-000", "REF-03"}}, "R1", 2, 1},
	} {
		set := choose(t, c.rule, c.reader, 1)
		if len(set.Read) != c.read || len(set.Controls) != c.controls {
			t.Errorf("For %s there are %d to read and %d controls, want %d and %d.", c.what, len(set.Read), len(set.Controls), c.read, c.controls)
		}
	}
}

func TestNoSitting(t *testing.T) {
	if _, err := Choose(pool(), Rule{Areas: []string{"Nowhere"}}, "R1", 1); !errors.Is(err, ErrNothing) {
		t.Errorf("A sitting of an area without fish gives %v.", err)
	}
	if _, err := Choose(pool(), Rule{}, "", 1); !errors.Is(err, ErrNoReader) {
		t.Errorf("A sitting of nobody gives %v.", err)
	}
	unseen := []Candidate{{Preparation: "P-1", Fish: "QB-1"}}
	if _, err := Choose(unseen, Rule{}, "R1", 1); !errors.Is(err, ErrNothing) {
		t.Errorf("A sitting of a preparation without picture gives %v.", err)
	}
}

// Under the microscope preparations without picture are read as well, and no picture is named.
func TestUnderTheMicroscopeNoPictureIsNeeded(t *testing.T) {
	unseen := []Candidate{{Preparation: "P-1", Fish: "QB-1"}, {Preparation: "P-2", Fish: "QB-2", Image: "I-2"},
		{Preparation: "R-1", Fish: "DM-1", Reference: true}}
	set, err := Choose(unseen, Rule{Glass: true}, "R1", 1)
	if err != nil || len(set.Read) != 2 || len(set.Controls) != 1 || set.Read[1].Image != "" {
		t.Errorf("A sitting under the microscope is %+v (%v), want two to read without picture, one control.", set, err)
	}
	set, err = Choose(unseen, Rule{}, "R1", 1)
	if err != nil || len(set.Read) != 1 || len(set.Controls) != 0 {
		t.Errorf("A sitting at the screen is %+v (%v), want the one with a picture, and no control that can't be seen.", set, err)
	}
}

// The order in which candidates come from the store decides nothing.
func TestOrderOfCandidatesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		mixed := rapid.Permutation(pool()).Draw(t, "mixed")
		a, errA := Choose(pool(), Rule{Most: 20}, "R2", seed)
		b, errB := Choose(mixed, Rule{Most: 20}, "R2", seed)
		if errA != nil || errB != nil || !reflect.DeepEqual(a, b) {
			t.Fatalf("Two orders of the same candidates gave %v and %v.", a, b)
		}
	})
}

func TestOneOfAFish(t *testing.T) {
	all := pool()
	for i := range all[:60] {
		all[i].Fish = record.FishID(fmt.Sprintf("QB-%d", i/2)) // left and right
	}
	set, err := Choose(all, Rule{Choose: UnreadByReader, Most: 100}, "R9", 3)
	if err != nil || len(set.Read) != 30 {
		t.Errorf("Of 60 preparations of 30 fish %d are read in one sitting (%v), want 30.", len(set.Read), err)
	}
}

// Those controls come first that the reader knows least.
func TestControlsThatAreKnownLeast(t *testing.T) {
	all := pool()
	for i := range all {
		if all[i].Reference && all[i].Preparation < "REF-09" {
			all[i].ReadBy = []record.ReaderID{"R2", "R2"}
		}
	}
	set, err := Choose(all, Rule{Most: 30}, "R2", 5)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range set.Controls {
		if c.Preparation < "REF-09" {
			t.Errorf("%s, which R2 has read twice, is a control although REF-09 to REF-11 are new to R2.", c.Preparation)
		}
	}
}

// Controls come anywhere: over many seeds the place of the only control is uniform.
func TestControlsAreHiddenAnywhere(t *testing.T) {
	var counts [10]float64
	const seeds = 2000
	for seed := range uint64(seeds) {
		s := Deal(choose(t, Rule{Most: 9}, "R2", 1), seed)
		for i, turn := range s.Turns {
			if turn.Control {
				counts[i]++
			}
		}
	}
	x2 := 0.0
	for _, n := range counts {
		x2 += (n - seeds/10) * (n - seeds/10) / (seeds / 10)
	}
	// Chi-squared of 9 degrees of freedom: 27.88 is passed once in a thousand (printed in any table).
	if x2 > 27.88 {
		t.Errorf("The control came at places %v: χ² = %.1f, want at most 27.88.", counts, x2)
	}
}

func TestDealIsDecidedBySetAndSeed(t *testing.T) {
	set := choose(t, Rule{}, "R2", 4)
	if a, b := Deal(set, 4), Deal(set, 4); !reflect.DeepEqual(a, b) {
		t.Error("The same set and seed were dealt in two ways.")
	}
	a, b := Deal(set, 4), Deal(set, 5)
	same := 0
	for i := range a.Turns {
		if a.Turns[i].Item == b.Turns[i].Item {
			same++
		}
	}
	if same > len(a.Turns)/4 {
		t.Errorf("Two seeds agree in %d of %d turns.", same, len(a.Turns))
	}
	codes := slices.Concat(set.Read, set.Controls)
	for _, turn := range a.Turns {
		if !slices.Contains(codes, turn.Item) {
			t.Errorf("%v was dealt and is not in the set.", turn.Item)
		}
	}
	if len(a.Turns) != len(codes) {
		t.Errorf("%d turns were dealt of a set of %d.", len(a.Turns), len(codes))
	}
}

// A sitting that is broken off anywhere, and dealt again from what was written down, goes
// on as if nothing had been.
func TestSittingGoesOnWhereItWas(t *testing.T) {
	set := choose(t, Rule{Most: 12}, "R2", 6)
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		var records []Record
		var seen []string
		for steps := 0; ; steps++ {
			s := Deal(set, seed) // as after a restart
			at := s.State(records)
			if at.Next == "" {
				break
			}
			if steps > 200 {
				t.Fatal("The sitting does not end.")
			}
			aside := rapid.IntRange(0, 3).Draw(t, "aside") == 0 && steps < 100
			records = append(records, Record{at.Next, aside})
			if !aside {
				seen = append(seen, at.Next)
			}
		}
		slices.Sort(seen)
		if n := len(set.Read) + len(set.Controls); len(slices.Compact(seen)) != n || len(seen) != n {
			t.Fatalf("%d turns were read, of %d.", len(seen), n)
		}
	})
}

func TestStateOfRecords(t *testing.T) {
	s := Sitting{Turns: []Turn{{Ticket: "a"}, {Ticket: "b"}, {Ticket: "c"}}}
	for _, c := range []struct {
		records []Record
		want    State
	}{
		{nil, State{Next: "a", Number: 1, Of: 3}},
		{[]Record{{Ticket: "a"}}, State{Next: "b", Number: 2, Of: 3, Read: 1}},
		{[]Record{{Ticket: "a"}, {Ticket: "a"}, {Ticket: "other"}}, State{Next: "b", Number: 2, Of: 3, Read: 1}},
		{[]Record{{Ticket: "a", Aside: true}}, State{Next: "b", Number: 2, Of: 3, PutAside: 1}},
		{[]Record{{Ticket: "a", Aside: true}, {Ticket: "b"}, {Ticket: "c"}}, State{Next: "a", Number: 3, Of: 3, Read: 2, PutAside: 1}},
		{[]Record{{Ticket: "a"}, {Ticket: "a", Aside: true}}, State{Next: "b", Number: 2, Of: 3, Read: 1}},
		{[]Record{{Ticket: "c"}, {Ticket: "b"}, {Ticket: "a"}}, State{Of: 3, Read: 3}},
	} {
		if got := s.State(c.records); got != c.want {
			t.Errorf("After %v the sitting stands at %+v, want %+v.", c.records, got, c.want)
		}
	}
}

// What a reader is sent is named here field by field: nothing gets into it unnoticed.
func TestSheetHasNoRoomForWhatMustNotBeKnown(t *testing.T) {
	allowed := map[string]string{
		"Sheet.Ticket": "string", "Sheet.Number": "int", "Sheet.Of": "int", "Sheet.Slot": "int",
		"Sheet.PictureWidth": "int", "Sheet.PictureHeight": "int", "Sheet.UmPerPixel": "float64", "Sheet.Bright": "bool",
		"Sheet.Offers": "[]sitting.Offer", "Offer.X": "float64", "Offer.Y": "float64", "Offer.Confidence": "float64",
		"Along.Step": "float64", "Along.X": "[]float64", "Along.Y": "[]float64", "Along.Light": "[]float64", "Along.Offers": "[]sitting.Offer",
	}
	found := 0
	for _, of := range []reflect.Type{reflect.TypeFor[Sheet](), reflect.TypeFor[Offer](), reflect.TypeFor[Along]()} {
		for _, field := range reflect.VisibleFields(of) {
			found++
			name := of.Name() + "." + field.Name
			if allowed[name] != field.Type.String() {
				t.Errorf("A reader's browser would be sent %s, a %v: is it sure that it can't sway a count?", name, field.Type)
			}
			for _, word := range []string{"length", "weight", "date", "caught", "area", "place", "fish", "annuli", "count", "age", "control", "reader", "image", "preparation"} {
				if strings.Contains(strings.ToLower(field.Name), word) {
					t.Errorf("A reader's browser would be sent %s, whose name speaks of %s.", name, word)
				}
			}
		}
	}
	if found != len(allowed) {
		t.Errorf("%d fields are sent, want the %d that are listed.", found, len(allowed))
	}
}

// Nothing in a sheet tells a control from another turn, nor names the fish.
func TestControlsLookLikeAllOthers(t *testing.T) {
	set := choose(t, Rule{Most: 20, Controls: 0.5}, "R2", 7)
	s := Deal(set, 7)
	shown := Shown{Width: 7744, Height: 5184, UmPerPixel: 1.2}
	for i, turn := range s.Turns {
		sheet, ok := s.Sheet(turn.Ticket, State{Number: i + 1, Of: len(s.Turns)}, shown, nil)
		want := Sheet{Ticket: turn.Ticket, Number: i + 1, Of: len(s.Turns), Slot: i + 1, PictureWidth: 7744, PictureHeight: 5184, UmPerPixel: 1.2}
		if !ok || !reflect.DeepEqual(sheet, want) {
			t.Errorf("Turn %d, control %v, is sent as %+v, want %+v.", i, turn.Control, sheet, want)
		}
		if strings.Contains(turn.Preparation, turn.Ticket) || len(turn.Ticket) != 8 {
			t.Errorf("Ticket %s is not one of 8 letters that say nothing.", turn.Ticket)
		}
	}
	if _, ok := s.Sheet("nothing", State{}, shown, nil); ok {
		t.Error("A sheet was made for a ticket of another sitting.")
	}
}

// TestTicketsDoNotForetellSuggestions holds the withheld third against every hash of a ticket
// that a reader could compute, and against its place. Of the turns that are no controls a
// third is unaided in each class, to 4 standard errors of a share of a third.
func TestTicketsDoNotForetellSuggestions(t *testing.T) {
	classes := map[string]func(at int, ticket string) uint32{
		"FNV-1a of the ticket": func(_ int, ticket string) uint32 { h := fnv.New32a(); h.Write([]byte(ticket)); return h.Sum32() },
		"CRC of the ticket":    func(_ int, ticket string) uint32 { return crc32.ChecksumIEEE([]byte(ticket)) },
		"the first letter":     func(_ int, ticket string) uint32 { return uint32(ticket[0]) },
		"the last letter":      func(_ int, ticket string) uint32 { return uint32(ticket[7]) },
		"the place":            func(at int, _ string) uint32 { return uint32(at) },
	}
	set := Set{}
	for i := range 60 {
		item := Item{fmt.Sprint(i), fmt.Sprint(i)}
		if i%10 == 0 {
			set.Controls = append(set.Controls, item)
		} else {
			set.Read = append(set.Read, item)
		}
	}
	for _, what := range slices.Sorted(maps.Keys(classes)) {
		var unaided, of [3]float64
		for seed := range uint64(200) {
			for at, turn := range Deal(set, seed).Turns {
				if turn.Control {
					if !turn.Unaided {
						t.Fatalf("A control of seed %d is shown suggestions.", seed)
					}
					continue
				}
				class := classes[what](at, turn.Ticket) % 3
				of[class]++
				if turn.Unaided {
					unaided[class]++
				}
			}
		}
		for class := range of {
			share, tol := unaided[class]/of[class], 4*math.Sqrt(2.0/9/of[class])
			if math.Abs(share-1.0/3) > tol {
				t.Errorf("Where %s leaves %d, %.3f of the turns are unaided, want a third ± %.3f.", what, class, share, tol)
			}
		}
	}
}

func TestTicketsAreEachOnce(t *testing.T) {
	var set Set
	for i := range 3000 {
		set.Read = append(set.Read, Item{fmt.Sprint(i), fmt.Sprint(i)})
	}
	seen := map[string]bool{}
	for _, turn := range Deal(set, math.MaxUint64).Turns {
		seen[turn.Ticket] = true
	}
	if len(seen) != 3000 {
		t.Errorf("3,000 turns have %d tickets.", len(seen))
	}
}

func TestChoiceWords(t *testing.T) {
	for c := range Choice(len(choices)) {
		if back, ok := ParseChoice(c.String()); !ok || back != c {
			t.Errorf("The word %q reads back as %v.", c, back)
		}
	}
	if _, ok := ParseChoice("whatever"); ok {
		t.Error("A word that is no choice passed for one.")
	}
}

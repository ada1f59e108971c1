// Package letter tells contributors what their fish told.
//
// Gather joins the records of a programme with the tables of a run. Letters are one for
// each contributor who may be written to, with that contributor's fish alone; Notice is
// the season on one page for a dock notice board, with names only of those who let theirs
// be printed. Areas are named as they may be made public, positions never; remarks,
// outlines, ports and columns that Earstone does not know reach no page. Texts come from
// pages/words in the language of the contributor.
package letter

import (
	"cmp"
	"slices"

	"earstone/pages/paper"
	"earstone/programme/date"
	"earstone/programme/record"
)

// Age is a fish's row of ages.csv.
type Age struct {
	Fish     record.FishID
	Species  record.Species
	Annuli   record.Number // completed annuli; between two counts it may be a half
	Age      record.Number // whole years, by the programme's convention
	Cohort   int           // 0: unknown
	Readings int
	Flags    []string
}

// Posterior is a row of origin.csv: how likely a nursery is for a fish.
type Posterior struct {
	Fish    record.FishID
	Nursery string
	Value   record.Number
	Call    string // a nursery, unclear or outside
}

// Share is a row of composition.csv for a whole year, or for all years together (year 0).
type Share struct {
	Species          record.Species
	Year             int
	Nursery, Method  string
	Value, Low, High record.Number
}

// Run is what a run found of single fish and of the whole catch.
type Run struct {
	Ages    []Age
	Origins []Posterior
	Shares  []Share
}

// Season is the fish of one year with what a run found of them.
type Season struct {
	Programme string
	Year      int
	Sheet     paper.Size // that browsers are told to print on; none: A4
	book      *record.Book
	run       Run
	fish      []Fish
	ages      map[record.Species][]float64
	lengths   map[measured][]float64 // cm, sorted
}

// measured is what lengths may be compared within.
type measured struct {
	species record.Species
	kind    record.LengthKind
}

// Fish is one fish as its contributor may hear of it.
type Fish struct {
	Label       record.FishID
	Species     record.Species
	Caught      date.Day
	Area        string // as it may be made public; empty: unknown
	Length      record.Length
	Age         Age
	Origins     []Posterior // of all nurseries, the likeliest first; none: not assayed
	Younger     Comparison
	Shorter     Comparison
	contributor string
}

// Comparison is how many of N fish of the season are below this one. N is 0 when there is
// nothing to say: the fish has no such figure, or fewer than ten others have.
type Comparison struct{ Below, N int }

// fewest fish that a fish is compared with: among fewer, the comparison would tell of
// the others.
const fewest = 10

// Share is the share below in hundredths.
func (c Comparison) Share() int { return (200*c.Below + c.N) / (2 * c.N) }

// Letter is what one contributor is told.
type Letter struct {
	Contributor string
	Language    string
	Fish        []Fish
}

// Withheld counts contributors with fish who get no letter.
type Withheld struct {
	Refused int // they do not want to be written to
	Unasked int // nobody knows whether they do
}

// Gather joins the records with a run, for fish caught in a year; a fish without a date
// of catch counts in the year in which it was received.
func Gather(book *record.Book, run Run, year int) *Season {
	s := &Season{Programme: book.Settings.Name, Year: year, book: book, run: run,
		ages: map[record.Species][]float64{}, lengths: map[measured][]float64{}}
	ages, origins := map[record.FishID]Age{}, map[record.FishID][]Posterior{}
	for _, a := range run.Ages {
		ages[a.Fish] = a
	}
	for _, p := range run.Origins {
		origins[p.Fish] = append(origins[p.Fish], p)
	}
	trips := map[record.TripID]string{}
	for i := range book.Trips {
		trips[book.Trips[i].Trip] = book.Trips[i].Contributor
	}
	areas := map[string]string{}
	for i := range book.Areas {
		areas[book.Areas[i].Area] = paper.PublicArea(book.Areas, book.Areas[i].Area)
	}
	for i := range book.Fish {
		f := &book.Fish[i]
		if SeasonOf(f) != year {
			continue
		}
		one := Fish{Label: f.Fish, Species: f.Species, Caught: f.CaughtOn, Area: areas[f.Area], Length: f.Length,
			Age: ages[f.Fish], Origins: origins[f.Fish], contributor: cmp.Or(f.Contributor, trips[f.Trip])}
		slices.SortStableFunc(one.Origins, func(a, b Posterior) int { return cmp.Compare(b.Value.X, a.Value.X) })
		s.fish = append(s.fish, one)
	}
	s.compare()
	return s
}

// SeasonOf is the year in which a fish counts: of its catch or else of its receipt; 0 when
// neither is known.
func SeasonOf(f *record.Fish) int {
	switch {
	case f.CaughtOn.Known():
		return f.CaughtOn.Year()
	case f.ReceivedOn.Known():
		return f.ReceivedOn.Year()
	}
	return 0
}

// compare sets each fish beside those of the season.
func (s *Season) compare() {
	for i := range s.fish {
		f := &s.fish[i]
		if f.Age.Age.Known {
			s.ages[f.Species] = append(s.ages[f.Species], f.Age.Age.X)
		}
		if cm, ok := inCm(f.Length); ok {
			k := measured{f.Species, f.Length.Kind}
			s.lengths[k] = append(s.lengths[k], cm)
		}
	}
	for _, all := range s.ages {
		slices.Sort(all)
	}
	for _, all := range s.lengths {
		slices.Sort(all)
	}
	for i := range s.fish {
		f := &s.fish[i]
		if f.Age.Age.Known {
			f.Younger = below(s.ages[f.Species], f.Age.Age.X)
		}
		if cm, ok := inCm(f.Length); ok {
			f.Shorter = below(s.lengths[measured{f.Species, f.Length.Kind}], cm)
		}
	}
}

func below(sorted []float64, x float64) Comparison {
	if len(sorted) <= fewest {
		return Comparison{}
	}
	at, _ := slices.BinarySearch(sorted, x)
	return Comparison{at, len(sorted)}
}

// inCm is a length in cm; without a kind lengths can't be compared.
func inCm(l record.Length) (cm float64, ok bool) {
	scale, known := map[string]float64{"mm": 0.1, "cm": 1, "in": 2.54}[l.Unit]
	return l.Value.X * scale, known && l.Value.Known && l.Kind != record.LengthKindUnknown
}

// Letters are the letters of the season, in the order of contributors.csv. A contributor
// whose consent is not on record is not written to.
func (s *Season) Letters() (letters []Letter, withheld Withheld) {
	byWhom := map[string][]Fish{}
	for _, f := range s.fish {
		byWhom[f.contributor] = append(byWhom[f.contributor], f)
	}
	for i := range s.book.Contributors {
		c := &s.book.Contributors[i]
		fish := byWhom[c.Contributor]
		switch {
		case len(fish) == 0:
		case c.ContactConsent == record.No:
			withheld.Refused++
		case c.ContactConsent != record.Yes:
			withheld.Unasked++
		default:
			slices.SortStableFunc(fish, func(a, b Fish) int {
				return cmp.Or(cmp.Compare(first(a.Caught), first(b.Caught)), cmp.Compare(a.Label, b.Label))
			})
			letters = append(letters, Letter{c.Contributor, c.Language, fish})
		}
	}
	return letters, withheld
}

// first is a day's place in time; an unknown one comes last.
func first(d date.Day) int {
	if !d.Known() {
		return 1 << 30
	}
	return d.First().Serial()
}

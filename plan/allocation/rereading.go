package allocation

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"earstone/estimate/run"
	"earstone/programme/record"
)

// Reread is a fish whose stone is worth another look.
type Reread struct {
	Fish       record.FishID
	Age        int // −1: its readings are not one age yet
	Readings   int // readers who have read it
	Influence  float64
	Unresolved bool
}

// entryKey is what tells entries of a sample apart.
type entryKey struct {
	trip, bin, age int32
	pattern        string
}

// Rereading lists the fish that not all readers have read, those first whose readings are
// not yet one age, then by influence: √Σ_j (what the fish does to target j / (want_j X_j))²,
// in wanted standard errors. A wrong reading of the first fish would do most harm.
func (s *Season) Rereading(convert run.Converter, bin record.LengthBin) []Reread {
	influence := s.influences()
	trips := map[record.TripID]int32{}
	for t := range s.Species.Counts.Trips {
		trips[s.Species.Counts.Trips[t].ID] = int32(t)
	}
	var all []Reread
	for i := range s.Species.Ages {
		f := &s.Species.Ages[i]
		at, ok := trips[f.Fish.Trip]
		if !ok {
			at = -1
		}
		x, _, known := convert.Length(s.Species.Species, f.Fish.Length, bin)
		if !known || len(f.Variants) == 0 || int(f.Fish.CaughtOn.Year()) != s.Species.Influence.Year {
			continue
		}
		r := Reread{Fish: f.Fish.Fish, Age: int(max(f.Class, -1)), Unresolved: !f.Class.Known()}
		for _, v := range f.Variants {
			classes, read := make([]int16, len(v.Classes)), 0
			for reader, class := range v.Classes {
				if classes[reader] = int16(max(class, -1)); class >= 0 {
					read++
				}
			}
			r.Readings = max(r.Readings, read)
			r.Influence += v.Share * influence[entryKey{at, int32(s.Species.Counts.Bins.At(x)), int32(max(v.Class, -1)), patternText(classes)}]
		}
		if r.Readings > 0 && r.Readings < len(s.Species.Counts.Readers) || r.Unresolved {
			all = append(all, r)
		}
	}
	slices.SortFunc(all, func(a, b Reread) int {
		return cmp.Or(cmp.Compare(truth(b.Unresolved), truth(a.Unresolved)), cmp.Compare(b.Influence, a.Influence), strings.Compare(string(a.Fish), string(b.Fish)))
	})
	return all
}

func truth(is bool) int {
	if is {
		return 1
	}
	return 0
}

// influences are those of the entries of the key.
func (s *Season) influences() map[entryKey]float64 {
	c, f := s.Species.Counts, s.Species.Influence
	all := map[entryKey]float64{}
	for i, e := range c.Key.Entries {
		sum := 0.0
		for j, age := range s.Ages {
			does := f.Stones[i*len(f.Number)+age] / (s.Targets[j].Value * s.Targets[j].Want)
			sum += float64(does * does)
		}
		pattern := ""
		if e.Pattern >= 0 {
			pattern = patternText(c.Key.Patterns[e.Pattern])
		}
		all[entryKey{e.Trip, e.Bin, e.Age, pattern}] = math.Sqrt(sum)
	}
	return all
}

func patternText(classes []int16) string {
	text := make([]byte, 0, 2*len(classes))
	for _, class := range classes {
		text = append(text, byte(class), byte(class>>8))
	}
	return string(text)
}

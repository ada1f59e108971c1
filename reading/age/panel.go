package age

import (
	"cmp"
	"math"
	"slices"

	"earstone/programme/record"
)

// Panel are the readers of a programme in its order: those it declares, then whoever
// else has read a stone, by code. A list that forgets a reader loses no reading.
type Panel struct {
	Readers []record.ReaderID
	rank    map[record.ReaderID]int
}

// NewPanel puts the readers of a programme in order.
func NewPanel(declared []record.ReaderID, readings []record.Reading) Panel {
	p := Panel{rank: make(map[record.ReaderID]int)}
	for _, reader := range declared {
		p.add(reader)
	}
	var others []record.ReaderID
	for i := range readings {
		if _, listed := p.rank[readings[i].Reader]; !listed {
			p.rank[readings[i].Reader] = -1 // seen; its place comes with the order of codes
			others = append(others, readings[i].Reader)
		}
	}
	slices.Sort(others)
	for _, reader := range others {
		delete(p.rank, reader)
		p.add(reader)
	}
	return p
}

func (p *Panel) add(reader record.ReaderID) {
	if _, listed := p.rank[reader]; !listed {
		p.rank[reader] = len(p.Readers)
		p.Readers = append(p.Readers, reader)
	}
}

// Latest fills last, one place a reader, with the index in readings of each reader's
// last counted reading among those of one fish, −1 where there is none. of are the
// indices of the fish's readings.
//
// Last is by the day of reading, an unknown day standing first; of one day the later
// in the table. A look at the stone that gave no count takes nothing back: the count
// before it stands. Control readings are of the reference collection and settle no
// age: they are passed over unless nothing else was counted on the fish, and controls
// tells when they were not.
func (p Panel) Latest(last []int, readings []record.Reading, of []int) (controls bool) {
	if len(last) != len(p.Readers) {
		panic("age: one place a reader is wanted")
	}
	controls = !slices.ContainsFunc(of, func(i int) bool {
		return readings[i].Annuli >= 0 && readings[i].Control != record.Yes
	})
	found := false
	for r := range last {
		last[r] = -1
	}
	for _, i := range of {
		r := &readings[i]
		rank, listed := p.rank[r.Reader]
		if !listed || r.Annuli < 0 || r.Control == record.Yes && !controls {
			continue
		}
		if before := last[rank]; before < 0 || InTime(r, &readings[before]) >= 0 {
			last[rank] = i
		}
		found = true
	}
	return controls && found
}

// InTime orders readings by the day on which they were made: negative when a came
// first, 0 when neither did. A day known in part stands at its first day, an unknown
// one before all.
func InTime(a, b *record.Reading) int { return cmp.Compare(readAt(a), readAt(b)) }

func readAt(r *record.Reading) int {
	if !r.ReadAt.Known() {
		return math.MinInt
	}
	return r.ReadAt.First().Serial()
}

// ByFish puts readings together by fish, in the order in which fish appear: of[i] are
// the indices of the readings of fish[i].
func ByFish(readings []record.Reading) (fish []record.FishID, of [][]int) {
	place := make(map[record.FishID]int, len(readings)/2)
	for i := range readings {
		at, seen := place[readings[i].Fish]
		if !seen {
			at = len(fish)
			place[readings[i].Fish] = at
			fish, of = append(fish, readings[i].Fish), append(of, nil)
		}
		of[at] = append(of[at], i)
	}
	return fish, of
}

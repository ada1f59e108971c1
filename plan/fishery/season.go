package fishery

import "earstone/programme/record"

// Season is one sampling of an invented fishery, over all its years. It is a
// record.Source: estimators read it as they read a programme's own tables.
type Season struct {
	fishery *Fishery
	trips   []trip
	rows    []lengthRow
	picked  []picked
	nursery []uint8  // of the picked fish; empty when there are no nurseries
	weighed []picked // fish with a card and a stone that nobody reads
	assayed []int32  // places of the assayed fish among the picked, rising
	book    *record.Book
}

var _ record.Source = (*Season)(nil)

// Season draws sampling b, from 0, of the fishery: other trips, fish and readings of
// the same truth. The same b of the same seed and settings is the same to the bit.
// Panics when b is negative.
func (f *Fishery) Season(b int) *Season {
	e := f.drawSeason(b)
	e.book = f.write(e, b)
	return e
}

// Book is everything but the length counts; the error is always nil. Each call gives
// the same book, so whoever alters it alters it for all.
func (e *Season) Book() (*record.Book, error) { return e.book, nil }

// Lengths hands over the length counts, trip by trip and by rising length. It makes no
// row of its own: the pointer is to the same record each time.
func (e *Season) Lengths(each func(*record.LengthCount) error) error {
	row := record.LengthCount{
		Species: species,
		Length:  record.Length{Unit: "cm", Kind: record.StraightFork, Resolution: record.Some(1)},
	}
	for i, r := range e.rows {
		row.Trip = e.book.Trips[r.trip].Trip
		row.Length.Value = record.Some(float64(r.cm))
		row.Count = float64(r.count)
		row.Row = i + 2
		if err := each(&row); err != nil {
			return err
		}
	}
	return nil
}

// Truth is what is true of the fishery that the season sampled.
func (e *Season) Truth() *Truth { return e.fishery.Truth() }

// TrueAges are the true age classes of the fish of the catch, which are the first of
// the book's fish: the aged ones, then those that were weighed only. Baseline fish come
// after them.
func (e *Season) TrueAges() []int {
	ages := make([]int, 0, len(e.picked)+len(e.weighed))
	for _, x := range e.picked {
		ages = append(ages, int(x.age))
	}
	for _, x := range e.weighed {
		ages = append(ages, int(x.age))
	}
	return ages
}

// TrueNurseries are the nurseries of the aged fish, the first of the book's fish, as
// places in Settings.Nurseries; empty when there are none.
func (e *Season) TrueNurseries() []int {
	out := make([]int, len(e.nursery))
	for i, k := range e.nursery {
		out[i] = int(k)
	}
	return out
}

// drawSeason draws the trips and picks the stones, year by year.
func (f *Fishery) drawSeason(b int) *Season {
	s := &f.settings
	e := &Season{fishery: f, trips: f.planTrips(b)}
	d := f.newDeck()
	e.picked = make([]picked, 0, s.Aged)
	picks := newPicking(s.BinCm, len(d.cms))
	picks.passed = make([]int32, 0, s.Lengths/s.Years)
	measured := make([]fish, 0, s.Lengths/s.Years)
	next := 0
	for y := range s.Years {
		measured = measured[:0]
		for ; next < len(e.trips) && f.yearOf(e.trips[next].stratum) == y; next++ {
			draw := f.stream(b, forTrip, next)
			f.draw(d, &draw, next, &f.strata[e.trips[next].stratum], int(e.trips[next].measured))
			measured = append(measured, d.fish...)
			e.rows = d.rows(e.rows, next)
		}
		stones := s.Aged*(y+1)/s.Years - s.Aged*y/s.Years
		strays := int(s.StonesWithoutTrip*float64(stones) + 0.5)
		draw := f.stream(b, forPicking, y)
		first := len(e.picked)
		e.picked = f.pickYear(e.picked, picks, &draw, measured, e.trips, stones-strays)
		draw = f.stream(b, forStray, y)
		e.picked = f.pickStrays(e.picked, &draw, y, strays)
		draw = f.stream(b, forWeighed, y)
		e.weighed = f.pickRest(e.weighed, picks, &draw, measured, e.trips, s.WeighedOnly*(y+1)/s.Years-s.WeighedOnly*y/s.Years)
		draw = f.stream(b, forAssay, y)
		e.assayed = f.pickAssayed(e.assayed, picks, &draw, e.picked[first:], first, s.Assayed*(y+1)/s.Years-s.Assayed*y/s.Years)
	}
	e.nursery = f.growUp(b, e.picked)
	return e
}

func (f *Fishery) yearOf(stratum int32) int { return int(stratum) / len(f.kinds) }

package run

import (
	"math"
	"strconv"

	"earstone/estimate/key"
	"earstone/programme/record"
	"earstone/programme/result"
)

// WeighedFound is what the mass of stones says of ages beyond length.
//
// Fish are those that were weighed and not read; they have shares only where mass foretold
// held-out ages better than length alone. They take no part in the catch at age: their
// shares rest on the aged fish, and to count them as aged would count those twice.
type WeighedFound struct {
	Scored key.MassScored
	Line   key.Mass
	Fish   []WeighedFish
}

// WeighedFish is a fish with a weighed stone that nobody has read.
type WeighedFish struct {
	Fish          *record.Fish
	Length        float64 // in the bins' unit and kind
	MassMg        float64
	ByLength, All []float64 // by age: of length alone, and of length with mass
}

// weighed holds mass beside length against length alone.
func (c *chain) weighed(s *Species) {
	masses := c.stoneMasses()
	if len(masses) == 0 || s.Key == nil {
		return
	}
	var fish []*record.Fish
	var aged []*FishAge
	for i := range s.Ages {
		if masses[s.Ages[i].Fish.Fish] > 0 {
			fish, aged = append(fish, s.Ages[i].Fish), append(aged, &s.Ages[i])
		}
	}
	places := c.newStands(s.Counts, fish, partGrowth) // its cells and trips alone are looked at: nothing is drawn
	lengths := make([]float64, len(fish))
	for i, f := range fish {
		if x, _, ok := c.convert.Length(s.Species, f.Length, c.book.Settings.LengthBin); ok && x > 0 {
			lengths[i] = x
		}
	}
	var known []key.MassFish
	for i, f := range aged {
		if lengths[i] > 0 && f.Class.Known() && int(f.Class) < s.Counts.Design.Ages {
			known = append(known, key.MassFish{Trip: places.trip[i], Row: places.cell[i], Age: int32(f.Class), Length: lengths[i], MassMg: masses[f.Fish.Fish], Portion: 1})
		}
	}
	found := &WeighedFound{}
	form := s.Key.Form
	if ofTrueAges(form) { // whose ages nobody wrote down: they have no score
		form = agreedOf(form)
	}
	worker, err := c.worker(s, form, s.Key.Smoothing)
	if err == nil {
		found.Scored, err = key.MassScores(s.Counts.Key, worker, known, key.Scoring{Borrowing: c.borrowing()})
	}
	if err == nil {
		found.Line, err = key.FitMass(c.atTrueAges(s, aged, known, lengths, &places, masses))
	}
	c.stage("stone mass")
	if err != nil {
		s.NoWeighed = err
		return
	}
	s.Weighed = found
	if !found.Scored.Wins() {
		return
	}
	for i, f := range aged {
		if lengths[i] > 0 && places.cell[i] >= 0 && !f.Class.Known() && len(f.Used) == 0 {
			found.take(s, f.Fish, int(places.cell[i]), lengths[i], masses[f.Fish.Fish])
		}
	}
}

// take shares a fish out over the ages; one without a row of the key has none.
func (w *WeighedFound) take(s *Species, f *record.Fish, cell int, length, mass float64) {
	ages := s.Counts.Design.Ages
	q := s.Key.Q[cell*ages : (cell+1)*ages]
	total := 0.0
	for _, share := range q {
		total += share
	}
	all := make([]float64, ages)
	if total > 0 && w.Line.Shares(all, q, length, mass) {
		w.Fish = append(w.Fish, WeighedFish{f, length, mass, q, all})
	}
}

// atTrueAges are the aged and weighed fish for the line of mass: each at its agreed age,
// or, under a key of true ages, shared out over those that it may be of.
func (c *chain) atTrueAges(s *Species, aged []*FishAge, known []key.MassFish, lengths []float64, places *stands, masses map[record.FishID]float64) []key.MassFish {
	if !ofTrueAges(s.Key.Form) {
		return known
	}
	var settled []*FishAge
	var cell []int32
	var length []float64
	for i, f := range aged {
		if lengths[i] > 0 && f.Class.Known() && int(f.Class) < s.Counts.Design.Ages {
			settled, cell, length = append(settled, f), append(cell, places.cell[i]), append(length, lengths[i])
		}
	}
	if len(settled) == 0 {
		return nil
	}
	matrices := c.matrices(s, s.Key.Form)
	ages := newTrueAges(settled, cell, s.Counts, s.Errors.Oldest, s.Key.Q, matrices)
	shares, sharing := make([]float64, len(ages.rows)), ages.worker()
	sharing.look(matrices)
	sharing.shares(shares, make([]float64, ages.ages), s.Key.Q)
	var out []key.MassFish
	for i, r := range ages.rows {
		out = append(out, key.MassFish{Trip: -1, Row: -1, Age: r.age, Length: length[r.fish], MassMg: masses[settled[r.fish].Fish.Fish], Portion: shares[i]})
	}
	return out
}

// stoneMasses are the masses by fish, of whole stones; of two the mean of the logarithms.
func (c *chain) stoneMasses() map[record.FishID]float64 {
	type sum struct{ logs, n float64 }
	sums := map[record.FishID]sum{}
	for i := range c.book.Stones {
		st := &c.book.Stones[i]
		if st.MassMg.Known && st.MassMg.X > 0 && (st.Condition == "whole" || st.Condition == "") {
			was := sums[st.Fish]
			sums[st.Fish] = sum{was.logs + math.Log(st.MassMg.X), was.n + 1}
		}
	}
	out := make(map[record.FishID]float64, len(sums))
	for fish, of := range sums {
		out[fish] = math.Exp(of.logs / of.n)
	}
	return out
}

// massScoreRows are the scores of length alone and of length with mass on the same fish.
func (w *WeighedFound) massScoreRows(species string) []result.Estimate {
	row := func(form, quantity string, x float64, se record.Number) result.Estimate {
		return result.Estimate{ID: []string{species, form, quantity}, Value: record.Some(x), SE: se, Trips: w.Scored.Trips, Stones: int(w.Scored.Fish + 0.5), Further: []string{"", "", ""}}
	}
	better, se := w.Scored.With-w.Scored.Alone, record.Some(w.Scored.BetterSE)
	behind := [2]record.Number{}
	if better > 0 {
		behind[0] = se
	} else {
		behind[1] = se
	}
	return []result.Estimate{
		row("weighed_length_alone", "log_score", w.Scored.Alone, record.Number{}), row("weighed_length_alone", "behind_best", math.Max(better, 0), behind[0]),
		row("weighed_length_alone", "floored_fish", w.Scored.AloneFloored, record.Number{}),
		row("weighed_length_and_mass", "log_score", w.Scored.With, record.Number{}), row("weighed_length_and_mass", "behind_best", math.Max(-better, 0), behind[1]),
		row("weighed_length_and_mass", "floored_fish", w.Scored.WithFloored, record.Number{}),
	}
}

// leastTold is the share below which an age of a weighed fish is not written.
const leastTold = 0.0005

// weighedPlain are the ages that weighed fish may be of.
func (o *Outcome) weighedPlain() result.Plain {
	p := result.Plain{Name: "weighed_ages", Columns: []string{"fish", "species", "length", "mass_mg", "age", "share", "share_by_length"}}
	for _, s := range o.Species {
		if s.Weighed == nil {
			continue
		}
		for _, f := range s.Weighed.Fish {
			for a, share := range f.All {
				if share >= leastTold || f.ByLength[a] >= leastTold {
					p.Rows = append(p.Rows, []string{string(f.Fish.Fish), string(s.Species), some(f.Length), some(f.MassMg), strconv.Itoa(a), some(share), some(f.ByLength[a])})
				}
			}
		}
	}
	return p
}

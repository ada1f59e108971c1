package fishery

import "earstone/programme/strata"

// Truth is what is true of an invented fishery. Columns are age classes by 1 January:
// column a is age a, and the last holds all from the plus group on; column 0 is empty,
// for nothing is caught in its year of birth.
type Truth struct {
	Strata     []strata.Cell
	Number     []float64 // N_s, fish
	Ages       int       // columns
	CatchAtAge []float64 // N_s·p_s(a), fish, strata × Ages; a row sums to N_s

	Nurseries      []string
	CatchByNursery []float64 // fish, strata × Ages × Nurseries; sums over nurseries to CatchAtAge

	// Mortality is Z by age, per year, from age 1 at place 1 to the oldest, whatever the
	// plus group; place 0 is 0 and stands for nothing.
	Mortality []float64

	fishery *Fishery
}

// Truth tells what is true.
func (f *Fishery) Truth() *Truth {
	t := &Truth{Ages: f.settings.columns(), fishery: f, Mortality: append([]float64{0}, f.deaths...)}
	for _, n := range f.settings.Nurseries {
		t.Nurseries = append(t.Nurseries, n.Name)
	}
	t.CatchAtAge = make([]float64, len(f.strata)*t.Ages)
	t.CatchByNursery = make([]float64, len(f.strata)*t.Ages*len(t.Nurseries))
	for i := range f.strata {
		st := &f.strata[i]
		t.Strata = append(t.Strata, st.cell)
		t.Number = append(t.Number, st.number)
		for a, share := range st.share {
			at := i*t.Ages + t.column(a)
			t.CatchAtAge[at] += st.number * share
			for k, of := range f.shares(i, a) {
				t.CatchByNursery[at*len(t.Nurseries)+k] += st.number * share * of
			}
		}
	}
	return t
}

// column is where age a + 1 stands.
func (t *Truth) column(a int) int { return min(a+1, t.Ages-1) }

// All takes in every stratum.
func All(strata.Cell) bool { return true }

// Total adds the catch at age of all strata that in takes in; Ages values.
func (t *Truth) Total(in func(strata.Cell) bool) []float64 {
	sum := make([]float64, t.Ages)
	for i, cell := range t.Strata {
		for a := range sum {
			if in(cell) {
				sum[a] += t.CatchAtAge[i*t.Ages+a]
			}
		}
	}
	return sum
}

// ByNursery adds the catch by nursery of all strata that in takes in, Ages × Nurseries.
func (t *Truth) ByNursery(in func(strata.Cell) bool) []float64 {
	row := t.Ages * len(t.Nurseries)
	sum := make([]float64, row)
	for i, cell := range t.Strata {
		if !in(cell) {
			continue
		}
		for j, n := range t.CatchByNursery[i*row : (i+1)*row] {
			sum[j] += n
		}
	}
	return sum
}

// Shares is the shares of the nurseries in the catch at each age of the strata that in
// takes in, Ages × Nurseries; the row of an age that nobody caught is 0 throughout.
func (t *Truth) Shares(in func(strata.Cell) bool) []float64 {
	shares := t.ByNursery(in)
	for a, n := range t.Total(in) {
		for k := range t.Nurseries {
			if n > 0 {
				shares[a*len(t.Nurseries)+k] /= n
			}
		}
	}
	return shares
}

// Composition is the shares of the nurseries in the whole catch of the strata that in
// takes in; nil where nothing is caught or there is no nursery.
func (t *Truth) Composition(in func(strata.Cell) bool) []float64 {
	shares, sum := make([]float64, len(t.Nurseries)), 0.0
	for j, n := range t.ByNursery(in) {
		shares[j%len(t.Nurseries)] += n
		sum += n
	}
	if sum == 0 {
		return nil
	}
	for k := range shares {
		shares[k] /= sum
	}
	return shares
}

// MeanLength is the mean length in cm of the fish of a column caught in the strata that
// in takes in; known is false where none is caught.
func (t *Truth) MeanLength(column int, in func(strata.Cell) bool) (cm float64, known bool) {
	return t.mean(column, in, func(d *sizes) float64 { return d.mean })
}

// MeanWeight is their mean round weight in kg.
func (t *Truth) MeanWeight(column int, in func(strata.Cell) bool) (kg float64, known bool) {
	return t.mean(column, in, func(d *sizes) float64 { return d.weight })
}

func (t *Truth) mean(column int, in func(strata.Cell) bool, of func(*sizes) float64) (float64, bool) {
	sum, fish := 0.0, 0.0
	for i := range t.fishery.strata {
		st := &t.fishery.strata[i]
		for a, share := range st.share {
			if t.column(a) == column && in(st.cell) {
				fish += st.number * share
				sum += st.number * share * of(&t.fishery.kinds[st.kind].sizes[a])
			}
		}
	}
	if fish == 0 {
		return 0, false
	}
	return sum / fish, true
}

// Key is P(age | length bin) of the catch in the strata that in takes in, bins × Ages
// row by row; bin i holds i·widthCm to under (i+1)·widthCm. The row of a bin in which
// nothing is caught is 0 throughout. lengths is the catch by bin, fish.
//
// In a quarter of a year it is the key of each of its strata, when widthCm divides the
// bin of picking or is it, and AreaEffect is 0.
func (t *Truth) Key(widthCm int, in func(strata.Cell) bool) (q, lengths []float64) {
	for i := range t.fishery.strata {
		st := &t.fishery.strata[i]
		if !in(st.cell) {
			continue
		}
		for a, share := range st.share {
			d := &t.fishery.kinds[st.kind].sizes[a]
			for bins := (d.first+len(d.share)-1)/widthCm + 1; len(lengths) < bins; {
				lengths = append(lengths, 0)
				q = append(q, make([]float64, t.Ages)...)
			}
			for j, p := range d.share {
				bin := (d.first + j) / widthCm
				lengths[bin] += st.number * share * p
				q[bin*t.Ages+t.column(a)] += st.number * share * p
			}
		}
	}
	for bin, n := range lengths {
		for a := range t.Ages {
			if n > 0 {
				q[bin*t.Ages+a] /= n
			}
		}
	}
	return q, lengths
}

// Grown is a group of caught fish alike in age and length: decimal age in years, length in
// cm, how many.
type Grown struct{ Age, Cm, Fish float64 }

// Grown is the whole catch of the strata that in takes in by age and cm, at the middle of
// each month: what a curve of length at age would be fitted to if every fish of the catch
// were measured and its age known.
func (t *Truth) Grown(in func(strata.Cell) bool) []Grown {
	f, census := t.fishery, map[[2]int][]float64{}
	var order [][2]int
	for i := range f.strata {
		st := &f.strata[i]
		if !in(st.cell) {
			continue
		}
		for a, share := range st.share {
			d := &f.kinds[st.kind].sizes[a]
			at := [2]int{f.kinds[st.kind].quarter, a}
			if census[at] == nil {
				order = append(order, at)
			}
			for j, p := range d.share {
				for len(census[at]) <= d.first+j {
					census[at] = append(census[at], 0)
				}
				census[at][d.first+j] += st.number * share * p
			}
		}
	}
	var all []Grown
	for _, at := range order {
		age := f.settings.decimalAge(at[1]+1, at[0])
		for cm, fish := range census[at] {
			for month := -1; fish > 0 && month <= 1; month++ {
				all = append(all, Grown{age + float64(month)/12, float64(cm) + 0.5, fish / 3})
			}
		}
	}
	return all
}

// Settings are those that the fishery was made from: growth, mortality and the readers.
func (f *Fishery) Settings() Settings { return f.settings }

// Settings are those of the fishery that it is true of.
func (t *Truth) Settings() Settings { return t.fishery.Settings() }

// meanWeight is the mean round weight of a stratum's fish, kg.
func (f *Fishery) meanWeight(st *stratum) float64 {
	kg := 0.0
	for a, share := range st.share {
		kg += share * f.kinds[st.kind].sizes[a].weight
	}
	return kg
}

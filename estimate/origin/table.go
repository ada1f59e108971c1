package origin

import "slices"

// table is a problem made ready: values as the densities see them, around the middle of
// the baseline, fish that lack a tracer left out of the baseline, and year classes by
// number.
type table struct {
	d, nurseries int
	origin       []float64 // subtracted from every value, so that sums keep their digits

	yearsUsed bool
	cohorts   []int // year classes in order, of baseline and mixed fish; one, unnamed, where they are pooled
	years     int   // len(cohorts); cell k·(years+1)+years is nursery k in an unknown year

	x     []float64 // baseline fish in order of nursery, fish × d
	cell  []int32   // nursery·(years+1) + year of each
	start []int     // first fish of each nursery, and the number of all
	row   []int     // index into Problem.Baseline

	mixed []float64 // mixed fish × d
	lacks []Lacking
	year  []int32 // of each mixed fish
}

// cells is the number of nurseries × (year classes and the unknown one).
func (t *table) cells() int { return t.nurseries * (t.years + 1) }

// fish is mixed fish i as the densities see it.
func (t *table) fish(i int) (x []float64, lacks Lacking, year int) {
	return t.mixed[i*t.d : (i+1)*t.d], t.lacks[i], int(t.year[i])
}

// seen is the number of tracers measured in mixed fish i.
func (t *table) seen(i int) (n int) {
	for j := range t.d {
		if !t.lacks[i].Has(j) {
			n++
		}
	}
	return n
}

func prepare(p Problem, poolYears bool) (*table, []Doubt, error) {
	t := &table{d: len(p.Tracers), nurseries: len(p.Nurseries)}
	doubts := t.listYears(p, poolYears)
	t.findMiddle(p)
	for k, name := range p.Nurseries {
		t.start = append(t.start, len(t.row))
		for i, b := range p.Baseline {
			year, known := t.yearOf(b.YearClass)
			if b.Nursery != k || b.Lacks != 0 || !known {
				continue
			}
			t.row = append(t.row, i)
			t.cell = append(t.cell, int32(k*(t.years+1)+year))
			t.x = t.append(t.x, b.X, 0, p.Tracers)
		}
		if len(t.row) == t.start[k] {
			return nil, nil, &Trouble{Reason: EmptyNursery, Nursery: name}
		}
	}
	t.start = append(t.start, len(t.row))
	lacking := make([]Doubt, t.d)
	for i, m := range p.Mixed {
		year, _ := t.yearOf(m.Cohort)
		t.mixed = t.append(t.mixed, m.X, m.Lacks, p.Tracers)
		t.lacks, t.year = append(t.lacks, m.Lacks), append(t.year, int32(year))
		for j := range lacking {
			if m.Lacks.Has(j) {
				lacking[j].Mixed = append(lacking[j].Mixed, i)
			}
		}
	}
	for j, d := range lacking {
		if d.Mixed != nil {
			doubts = append(doubts, Doubt{Reason: MixedLacks, Nursery: -1, Tracer: j, Mixed: d.Mixed})
		}
	}
	return t, doubts, nil
}

// append adds a fish; what it lacks stands at the middle and is never looked at.
func (t *table) append(to, x []float64, lacks Lacking, tracers []Tracer) []float64 {
	for j, v := range x {
		if lacks.Has(j) {
			to = append(to, 0)
			continue
		}
		to = append(to, tracers[j].value(v)-t.origin[j])
	}
	return to
}

// listYears numbers the year classes, and tells which baseline fish are of no use.
// Years are pooled, and a doubt says so, where no nursery has two of them.
func (t *table) listYears(p Problem, poolYears bool) (doubts []Doubt) {
	lacks, noYear := make([]Doubt, t.d), Doubt{Reason: NoYearClass, Nursery: -1, Tracer: -1}
	several := make([]map[int]bool, t.nurseries)
	for i, b := range p.Baseline {
		for j := range lacks {
			if b.Lacks.Has(j) {
				lacks[j].Known = append(lacks[j].Known, i)
			}
		}
		if b.YearClass == 0 {
			noYear.Known = append(noYear.Known, i)
		} else if b.Lacks == 0 {
			t.cohorts = append(t.cohorts, b.YearClass)
			if several[b.Nursery] == nil {
				several[b.Nursery] = map[int]bool{}
			}
			several[b.Nursery][b.YearClass] = true
		}
	}
	for j, d := range lacks {
		if d.Known != nil {
			doubts = append(doubts, Doubt{Reason: LacksTracer, Nursery: -1, Tracer: j, Known: d.Known})
		}
	}
	differ := slices.ContainsFunc(several, func(y map[int]bool) bool { return len(y) > 1 })
	if poolYears || !differ {
		asked := len(t.cohorts) > 0 || slices.ContainsFunc(p.Mixed, func(m Mixed) bool { return m.Cohort != 0 })
		if asked && !poolYears {
			doubts = append(doubts, Doubt{Reason: YearsUnknown, Nursery: -1, Tracer: -1})
		}
		t.cohorts, t.years = []int{0}, 1
		return doubts
	}
	t.yearsUsed = true
	for _, m := range p.Mixed {
		if m.Cohort != 0 {
			t.cohorts = append(t.cohorts, m.Cohort)
		}
	}
	slices.Sort(t.cohorts)
	t.cohorts = slices.Compact(t.cohorts)
	t.years = len(t.cohorts)
	if noYear.Known != nil {
		doubts = append(doubts, noYear)
	}
	return doubts
}

// yearOf is the number of a year class; an unknown one comes after the last.
func (t *table) yearOf(yearClass int) (year int, known bool) {
	if !t.yearsUsed {
		return 0, true
	}
	year, found := slices.BinarySearch(t.cohorts, yearClass)
	if !found {
		return t.years, false
	}
	return year, true
}

// findMiddle is the mean of each tracer over the baseline.
func (t *table) findMiddle(p Problem) {
	t.origin = make([]float64, t.d)
	for j, tracer := range p.Tracers {
		n := 0.0
		for _, b := range p.Baseline {
			if !b.Lacks.Has(j) {
				n++
				t.origin[j] += (tracer.value(b.X[j]) - t.origin[j]) / n
			}
		}
	}
}

// tellYears adds to the doubts the mixed fish whose year class some nursery lacks.
func (f *Fit) tellYears() {
	t := f.data
	if !t.yearsUsed {
		return
	}
	byYear := make([][]int, t.years+1)
	for i, year := range t.year {
		byYear[year] = append(byYear[year], i)
	}
	for year, fish := range byYear {
		if fish == nil {
			continue
		}
		if year == t.years {
			f.Doubts = append(f.Doubts, Doubt{Reason: UnknownCohort, Nursery: -1, Tracer: -1, Mixed: fish})
			continue
		}
		for k := range t.nurseries {
			if f.classes.n[k*(t.years+1)+year] == 0 {
				f.Doubts = append(f.Doubts, Doubt{Reason: UnseenYear, Nursery: k, Tracer: -1, Year: t.cohorts[year], Mixed: fish})
			}
		}
	}
}

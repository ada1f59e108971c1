package allocation

import (
	"math"
	"strconv"

	"earstone/estimate/run"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// Headers are the tables of a plan without their rows, in the order of docs/tables.md.
func Headers() []result.Plain {
	return []result.Plain{
		{Name: "quotas", Columns: []string{"species", "quarter", "month", "area", "gear", "item", "length", "number"}},
		{Name: "rereading", Columns: []string{"species", "fish", "age", "readings", "unresolved", "influence"}},
		{Name: "predicted_cv", Columns: []string{"species", "quantity", "age", "want_cv", "resampled_cv", "today_cv", "planned_cv"}},
		{Name: "worth", Columns: []string{"species", "quarter", "month", "area", "gear", "item", "length", "today", "obtainable", "planned", "cost", "gain", "gain_by_cost"}},
	}
}

// Tables are the plan as files: quotas for the dock, the re-reading list for the bench, the
// CVs to be had, and each cell with what one item more would be worth.
func (s *Season) Tables(convert run.Converter, bin record.LengthBin) []result.Plain {
	t := Headers()
	t[0].Rows, t[1].Rows, t[2].Rows, t[3].Rows = s.quotaRows(), s.rereadingRows(convert, bin), s.predictedRows(), s.worthRows()
	return t
}

func (s *Season) quotaRows() [][]string {
	var rows [][]string
	for _, q := range s.Quotas() {
		rows = append(rows, append(append([]string{string(s.Species.Species)}, withoutYear(q.Cell)...), string(q.Item), s.lower(q.Bin), strconv.Itoa(q.N)))
	}
	return rows
}

func (s *Season) rereadingRows(convert run.Converter, bin record.LengthBin) [][]string {
	var rows [][]string
	for _, r := range s.Rereading(convert, bin) {
		age := ""
		if r.Age >= 0 {
			age = strconv.Itoa(r.Age)
		}
		rows = append(rows, []string{string(s.Species.Species), string(r.Fish), age, strconv.Itoa(r.Readings), strconv.FormatBool(r.Unresolved), figure(r.Influence)})
	}
	return rows
}

// predictedRows set the CVs of the run beside those of its variance terms, today and as
// planned.
func (s *Season) predictedRows() [][]string {
	var rows [][]string
	for j, age := range s.Ages {
		rows = append(rows, []string{string(s.Species.Species), "catch_at_age", strconv.Itoa(age), figure(s.Targets[j].Want),
			figure(s.Species.Influence.CV(age).X), figure(s.Today.CV[j]), figure(s.Next.CV[j])})
	}
	return rows
}

// worthRows has every cell.
func (s *Season) worthRows() [][]string {
	var rows [][]string
	for i, place := range s.Places {
		cell := strata.Cell{}
		switch place.Item {
		case Trip:
			cell = s.Species.Counts.Cells[place.Stratum]
		case Stone:
			cell = s.Species.Counts.KeyCells[place.Key]
		}
		c := &s.Cells[i]
		gain := s.gain(i, s.Plan.N[i])
		rows = append(rows, append(append([]string{string(s.Species.Species)}, withoutYear(cell)...), string(place.Item), s.lower(place.Bin),
			strconv.Itoa(c.Today), strconv.Itoa(c.Most), strconv.Itoa(s.Plan.N[i]), figure(c.Cost), figure(gain), figure(gain/c.Cost)))
	}
	return rows
}

// withoutYear are the columns of a cell but its year: the plan is of the next.
func withoutYear(cell strata.Cell) []string {
	cell.Year = 0
	return cell.Texts()[1:]
}

func (s *Season) lower(bin int) string {
	if bin < 0 {
		return ""
	}
	return figure(s.Species.Counts.Bins.Lower(bin))
}

// figure is a number in four digits, as no plan is known better.
func figure(x float64) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'g', 4, 64)
}

package book

import (
	"bytes"
	"fmt"
	"slices"

	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/tables"
)

// counts are the length counts of a file, trip by trip in the order of their coming up.
type counts struct {
	extra []string
	trips []record.TripID
	of    map[record.TripID]*tripCounts
}

// tripCounts are those of one trip, with their rows as they stood in the file when any
// of them reads otherwise.
type tripCounts struct {
	rows  []record.LengthCount
	raw   bytes.Buffer
	other bool // raw holds what rows do not say
}

func newCounts() *counts { return &counts{of: map[record.TripID]*tripCounts{}} }

// adder takes counts in; step is asked once a row whether to go on.
func (c *counts) adder(step func() error) func([]string, *record.LengthCount, [][]byte) error {
	return func(extra []string, count *record.LengthCount, raw [][]byte) error {
		c.extra = extra
		t := c.of[count.Trip]
		if t == nil {
			t = &tripCounts{}
			c.of[count.Trip] = t
			c.trips = append(c.trips, count.Trip)
		}
		kept := *count
		kept.Extra = slices.Clone(count.Extra)
		t.rows = append(t.rows, kept)
		if raw != nil {
			t.other = true
			fmt.Fprintf(&t.raw, "%d:", count.Row)
			for i, cell := range raw {
				if i > 0 {
					t.raw.WriteByte('\t')
				}
				t.raw.WriteString(tables.Legible(cell))
			}
			t.raw.WriteByte('\n')
		}
		return step()
	}
}

// bin is what a length count is of: two rows of one bin are the same count.
type bin struct {
	species record.Species
	sex     record.Sex
	length  record.Length
}

func binOf(c *record.LengthCount) bin { return bin{c.Species, c.Sex, c.Length} }

// matchCounts joins the counts of a file with those that are there, trip by trip and bin
// by bin: a bin that is there with another count is corrected, one that is not is added.
func (p *planner) matchCounts(t *taken, change *Change) error {
	t.extra = t.counts.extra
	s := p.kept[history.Lengths]
	for _, trip := range t.counts.trips {
		of := t.counts.of[trip]
		row := tables.Row{Number: of.rows[0].Row, Cells: map[string]string{"trip": string(trip)}}
		if of.other {
			row.Raw = map[string]string{rowsField: of.raw.String()}
		}
		at, rows, extra := -1, of.rows, t.extra
		k := keyOf(history.Lengths, row.Cells)
		switch there := s.by[k]; {
		case len(there) > 0:
			at = there[0]
			joined, names, err := join(s.records[at].Fields()[rowsField], of.rows, t.extra, change)
			if err != nil {
				return err
			}
			rows, extra = joined, names
		case p.stacked(s, k): // an earlier file of this import has counts of the trip
			if err := p.stack(s, k, of, t.extra, change); err != nil {
				return err
			}
			continue
		default:
			change.New += len(rows)
		}
		text, err := tables.LengthsText(extra, rows)
		if err != nil {
			return err
		}
		row.Cells[rowsField] = text
		if at >= 0 {
			was, err := p.said(&s.records[at], row.Cells)
			if err != nil {
				return err
			}
			if was {
				continue
			}
			s.by[k] = nil
		}
		s.fresh = append(s.fresh, fresh{t, row, at})
	}
	return nil
}

func (p *planner) stacked(s *shelf, k string) bool { return p.stackedAt(s, k) >= 0 }

func (p *planner) stackedAt(s *shelf, k string) int {
	return slices.IndexFunc(s.fresh, func(f fresh) bool { return keyOf(history.Lengths, f.row.Cells) == k })
}

// stack joins counts of a trip with those of an earlier file of the same import.
func (p *planner) stack(s *shelf, k string, of *tripCounts, extra []string, change *Change) error {
	f := &s.fresh[p.stackedAt(s, k)]
	rows, names, err := join(f.row.Cells[rowsField], of.rows, extra, change)
	if err != nil {
		return err
	}
	if of.other {
		f.row.Raw = map[string]string{rowsField: f.row.Raw[rowsField] + of.raw.String()}
	}
	f.row.Cells[rowsField], err = tables.LengthsText(names, rows)
	return err
}

// join is what the counts of a trip are once those of a file have joined them.
func join(text string, rows []record.LengthCount, extra []string, change *Change) ([]record.LengthCount, []string, error) {
	var there []record.LengthCount
	var names []string
	_, err := tables.ReadLengthsText(text, func(of []string, c *record.LengthCount) error {
		names = of
		kept := *c
		kept.Extra = slices.Clone(c.Extra)
		there = append(there, kept)
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	all := slices.Clone(names)
	for _, name := range extra {
		if !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	free := map[bin][]int{}
	for i := range there {
		there[i].Extra = aligned(there[i].Extra, names, all)
		free[binOf(&there[i])] = append(free[binOf(&there[i])], i)
	}
	for _, c := range rows {
		c.Extra = aligned(c.Extra, extra, all)
		at := free[binOf(&c)]
		switch {
		case len(at) == 0:
			change.New++
			there = append(there, c)
			continue
		case there[at[0]].Count == c.Count && slices.Equal(there[at[0]].Extra, c.Extra):
			change.Same++
		default:
			change.Corrected++
			there[at[0]] = c
		}
		free[binOf(&c)] = at[1:]
	}
	return there, all, nil
}

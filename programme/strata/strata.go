// Package strata cuts the catch into strata, with the ladders along which a cell may
// borrow from its neighbours.
package strata

import (
	"strconv"
	"strings"

	"earstone/programme/date"
)

// Set is a set of the columns that can define a stratum: Year, Quarter, Month, Area
// and Gear joined by |. The zero Set is "all together".
type Set uint8

// The columns.
const (
	Year Set = 1 << iota
	Quarter
	Month
	Area
	Gear
)

var columns = []string{"year", "quarter", "month", "area", "gear"}

// Columns are the names that ParseSet takes, in the order in which tables print them.
func Columns() []string { return columns }

// ParseSet joins columns by name; unknown is the first name that is none, or empty.
func ParseSet(names []string) (set Set, unknown string) {
	for _, name := range names {
		column := Set(0)
		for i, known := range columns {
			if name == known {
				column = 1 << i
			}
		}
		if column == 0 {
			return 0, name
		}
		set |= column
	}
	return set, ""
}

// Names are the columns of the set in the order of the tables.
func (s Set) Names() []string {
	var names []string
	for i, name := range columns {
		if s&(1<<i) != 0 {
			names = append(names, name)
		}
	}
	return names
}

// String joins the names by +, or says "all" for the empty set.
func (s Set) String() string {
	if s == 0 {
		return "all"
	}
	return strings.Join(s.Names(), "+")
}

// Has tells whether the set holds all columns of another.
func (s Set) Has(other Set) bool { return s&other == other }

// Ladder is a list of column sets, tried in order: a cell with too little borrows from
// everything that shares the columns of the next set, never past the last.
type Ladder []Set

// ParseLadder reads a ladder of column names; unknown is the first bad name, or empty.
func ParseLadder(rungs [][]string) (ladder Ladder, unknown string) {
	for _, names := range rungs {
		set, bad := ParseSet(names)
		if bad != "" {
			return nil, bad
		}
		ladder = append(ladder, set)
	}
	return ladder, ""
}

// Cell is where and when: a stratum, or the place of a trip. A column at its zero value
// is unknown, or summed over. Cells are comparable and can be keys of maps.
type Cell struct {
	Year, Quarter, Month int16
	Area, Gear           string
}

// At is the cell of something caught or landed on a day; what the date does not tell
// stays unknown.
func At(day date.Day, area, gear string) Cell {
	return Cell{int16(day.Year()), int16(day.Quarter()), int16(day.Month()), area, gear}
}

// Keep is the cell with all columns outside the set emptied.
func (c Cell) Keep(s Set) Cell {
	var kept Cell
	if s&Year != 0 {
		kept.Year = c.Year
	}
	if s&Quarter != 0 {
		kept.Quarter = c.Quarter
	}
	if s&Month != 0 {
		kept.Month = c.Month
	}
	if s&Area != 0 {
		kept.Area = c.Area
	}
	if s&Gear != 0 {
		kept.Gear = c.Gear
	}
	return kept
}

// Known is the set of columns that the cell knows.
func (c Cell) Known() Set {
	var s Set
	if c.Year != 0 {
		s |= Year
	}
	if c.Quarter != 0 {
		s |= Quarter
	}
	if c.Month != 0 {
		s |= Month
	}
	if c.Area != "" {
		s |= Area
	}
	if c.Gear != "" {
		s |= Gear
	}
	return s
}

// Texts are the values in the order of Columns; an unknown one is empty.
func (c Cell) Texts() []string {
	return []string{whole(c.Year), whole(c.Quarter), whole(c.Month), c.Area, c.Gear}
}

// String names the cell for a person: "2031 Q2 Skell line", or "all together".
func (c Cell) String() string {
	var parts []string
	if c.Year != 0 {
		parts = append(parts, whole(c.Year))
	}
	if c.Month != 0 {
		parts = append(parts, "month "+whole(c.Month))
	} else if c.Quarter != 0 {
		parts = append(parts, "Q"+whole(c.Quarter))
	}
	for _, text := range []string{c.Area, c.Gear} {
		if text != "" {
			parts = append(parts, text)
		}
	}
	if len(parts) == 0 {
		return "all together"
	}
	return strings.Join(parts, " ")
}

// Compare orders cells by year, quarter, month, area and gear.
func Compare(a, b Cell) int {
	for _, pair := range [][2]int16{{a.Year, b.Year}, {a.Quarter, b.Quarter}, {a.Month, b.Month}} {
		if pair[0] != pair[1] {
			return int(pair[0]) - int(pair[1])
		}
	}
	if c := strings.Compare(a.Area, b.Area); c != 0 {
		return c
	}
	return strings.Compare(a.Gear, b.Gear)
}

func whole(n int16) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(int(n))
}

package estimate

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/store/tables"
)

// row is a row of a result table by its columns.
type row map[string]string

// eachRow goes through a table of a run; a table that the run does not have has no row.
func eachRow(folder fs.FS, table string, each func(row)) error {
	file, err := folder.Open(table + ".csv")
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("opening %s: %w", table, err)
	}
	defer file.Close()
	return tables.EachResult(file, func(columns, cells []string) error {
		r := make(row, len(columns))
		for i, column := range columns {
			r[column] = cells[i]
		}
		each(r)
		return nil
	})
}

// tablesIn are the tables of a run by name.
func tablesIn(folder fs.FS) ([]string, error) {
	names, err := fs.Glob(folder, "*.csv")
	if err != nil {
		return nil, fmt.Errorf("listing the tables of a run: %w", err)
	}
	for i := range names {
		names[i] = strings.TrimSuffix(names[i], ".csv")
	}
	return names, nil
}

// number is a cell as a number; an empty one is unknown.
func (r row) number(column string) record.Number {
	x, err := strconv.ParseFloat(r[column], 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return record.Number{}
	}
	return record.Some(x)
}

// estimate is a value with its interval.
type estimate struct{ value, se, low, high record.Number }

func (r row) estimate() estimate {
	return estimate{r.number("value"), r.number("se"), r.number("low"), r.number("high")}
}

// texts are the value and its interval as they are read.
func (e estimate) texts(quantity string) (value, interval string) {
	if !e.value.Known {
		return "unknown", ""
	}
	scale, decimals, unit := 1.0, decimalsOf(quantity, e), ""
	if quantity == "share" || strings.HasSuffix(quantity, "_share") {
		scale, decimals, unit = 100, 1, " %"
	}
	value = words.Figure(scale*e.value.X, decimals) + unit
	if e.low.Known && e.high.Known {
		interval = words.Figure(scale*e.low.X, decimals) + " to " + words.Figure(scale*e.high.X, decimals) + unit
	}
	return value, interval
}

// decimalsOf is how many decimals a value bears: none for fish, else two digits of its
// standard error.
func decimalsOf(quantity string, e estimate) int {
	switch quantity {
	case "number", "unaged_number":
		return 0
	case "mean_length", "mean_weight":
		return 1
	}
	at := math.Abs(e.value.X)
	if e.se.Known && e.se.X > 0 {
		at = e.se.X
	}
	if at == 0 {
		return 0
	}
	return max(0, min(6, 1-int(math.Floor(math.Log10(at)))))
}

// place is where a catch at age is of: a species and a cell, whose empty columns are
// summed over.
type place struct {
	Species string
	Cell    [5]string // in the order of strata.Columns
}

func (r row) place() place {
	p := place{Species: r["species"]}
	for i, column := range strata.Columns() {
		p.Cell[i] = r[column]
	}
	return p
}

// String names a place for a person.
func (p place) String() string {
	var parts []string
	for i, text := range p.Cell {
		switch {
		case text == "":
		case strata.Columns()[i] == "quarter":
			parts = append(parts, "quarter "+text)
		case strata.Columns()[i] == "month":
			parts = append(parts, "month "+text)
		default:
			parts = append(parts, text)
		}
	}
	if len(parts) == 0 {
		parts = []string{"all together"}
	}
	return p.Species + ", " + strings.Join(parts, ", ")
}

// Value is the place as one text of an address.
func (p place) Value() string {
	return strings.Join(append([]string{p.Species}, p.Cell[:]...), "|")
}

// parsePlace reads what Value wrote.
func parsePlace(text string) (p place, ok bool) {
	parts := strings.Split(text, "|")
	if len(parts) != 1+len(p.Cell) {
		return place{}, false
	}
	p.Species = parts[0]
	copy(p.Cell[:], parts[1:])
	return p, true
}

// holds tells whether what lies at another place lies within this one.
func (p place) holds(other place) bool {
	if p.Species != other.Species {
		return false
	}
	for i, text := range p.Cell {
		if text != "" && text != other.Cell[i] {
			return false
		}
	}
	return true
}

// ageText is the name of an age, the plus group with its sign.
func ageText(r row) string {
	if r["plus"] == "true" {
		return r["age"] + "+"
	}
	return r["age"]
}

// placesOf are the places of a catch at age in the order of the table, years first.
func placesOf(folder fs.FS) (all []place, err error) {
	seen := map[place]bool{}
	err = eachRow(folder, "catch_at_age", func(r row) {
		if p := r.place(); !seen[p] {
			seen[p] = true
			all = append(all, p)
		}
	})
	return all, err
}

// usualPlace is the last year's total of the first species.
func usualPlace(all []place) place {
	best := all[0]
	for _, p := range all {
		if total := p; p.Species == best.Species {
			total.Cell[0] = ""
			if total.Cell == [5]string{} && p.Cell[0] > best.Cell[0] {
				best = p
			}
		}
	}
	return best
}

// placeIn is the place that was asked for, or the usual one where the run has no such.
func placeIn(all []place, asked string) place {
	if p, ok := parsePlace(asked); ok && slices.Contains(all, p) {
		return p
	}
	return usualPlace(all)
}

// Package result holds estimates in long form: what each identifies, its value, its
// interval, what it rests on.
package result

import "earstone/programme/record"

// Estimate is one row of a result table. A part that could not be had is unknown; it
// is printed as an empty cell and never as a number that is none.
type Estimate struct {
	ID      []string // the identifying columns, in the order of the table
	Value   record.Number
	SE      record.Number
	Low     record.Number
	High    record.Number
	Level   float64 // of the interval, 0.95 say; 0 where there is none
	Trips   int
	Stones  int
	Filled  record.Number // share of the value that rests on filled strata
	Further []string      // the table's further columns
}

// Table is a result table: its name, its columns and its rows.
type Table struct {
	Name     string // catch_at_age, say
	ID       []string
	Further  []string // columns after the estimate columns
	Estimate []Estimate
}

// Plain is a result table without estimates, such as the ages of single fish.
type Plain struct {
	Name    string
	Columns []string
	Rows    [][]string
}

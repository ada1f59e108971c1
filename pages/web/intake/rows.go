package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
)

// heads are the columns; for one that nobody knows a choice is offered.
func (v *tableView) heads(s sheet) {
	for i, column := range s.header {
		h := headCell{Name: "h-" + strconv.Itoa(i), Text: column}
		if column == leftOut {
			h.Text = "left out"
		}
		if !known(column) {
			v.Problems++
			h.Options = []frame.Option{{Value: "", Text: "which column is it?", Chosen: true}, {Value: leftOut, Text: "leave it out"}}
			for _, free := range append(slices.Clone(form.CardColumns), stonesColumn) {
				if !slices.Contains(s.header, free) {
					h.Options = append(h.Options, frame.Option{Value: free, Text: free})
				}
			}
		} else if column != leftOut && slices.Index(s.header, column) < i {
			v.Problems++
			h.Options = []frame.Option{{Value: "", Text: column + ", a second time", Chosen: true}, {Value: leftOut, Text: "leave it out"}}
		}
		v.Columns = append(v.Columns, h)
	}
}

// assume says aloud what is taken where the table says nothing.
func (v *tableView) assume(s sheet, usual form.Cells) {
	if code := usual["species"]; code != "" && !slices.Contains(s.header, "species") {
		v.Said = append(v.Said, "The table names no species: "+code+" is taken for all.")
	}
	if !slices.Contains(s.header, stonesColumn) {
		v.Said = append(v.Said, "The table does not say which stones are in the vials: both are taken for all.")
	}
}

// row lays out one row with what is wrong beside each cell; rows without a problem are
// shown at the head of the table only.
func (v *tableView) row(i int, s sheet, row []string, typed form.Typed, more map[string][]frame.Problem) {
	view := rowView{Number: i + 2}
	beside := map[string]bool{}
	wrong := false
	for j, column := range s.header {
		c := cellView{Name: cellName(i, j), Label: "Row " + strconv.Itoa(i+2) + ", " + column, Text: row[j]}
		if column != leftOut && known(column) && slices.Index(s.header, column) == j {
			c.Problems = append(form.Problems(typed, column), more[column]...)
			beside[column] = true
		}
		wrong = v.count(&c) || wrong
		view.Cells = append(view.Cells, c)
	}
	for _, f := range typed.Found { // what stands in no column of the table
		if problem := frame.ProblemOf(f); !beside[f.Place.Column] && f.Severity > 0 {
			problem.Says = strings.TrimSpace(strings.ReplaceAll(f.Place.Column, "_", " ") + ": " + problem.Says)
			view.Problems = append(view.Problems, problem)
			wrong = true
			if problem.Grave {
				v.Problems++
			} else {
				v.Doubts++
			}
		}
	}
	if wrong || i < rowsShown {
		v.Rows = append(v.Rows, view)
	} else {
		v.Hidden++
	}
}

// count counts the problems of a cell, and tells whether there are any.
func (v *tableView) count(c *cellView) bool {
	if len(c.Problems) == 0 {
		return false
	}
	c.Grave = slices.ContainsFunc(c.Problems, func(p frame.Problem) bool { return p.Grave })
	if c.Grave {
		v.Problems++
	} else {
		v.Doubts++
	}
	return true
}

// seal stands for all doubts of a table: who sends it back has seen them.
func (s sheet) seal() string {
	sum := sha256.Sum256([]byte(s.text()))
	return hex.EncodeToString(sum[:8])
}

package tables

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"earstone/programme/record"
)

// Forms are the forms in which one table by itself is written.
func Forms() []string { return []string{"csv", "json", "parquet"} }

// ErrNoTable is a table or a form that there is not.
var ErrNoTable = errors.New("tables: there is no such table in this form")

// WriteTable writes one table of a programme by itself: csv as it stands in the folder of
// a programme, json as a list of objects, parquet with numbers as numbers. An unknown cell
// is empty, null or null. counts is asked for the table of lengths alone.
func WriteTable(to io.Writer, form, name string, book *record.Book, counts Counts) error {
	for _, table := range held {
		if table.title() == name {
			return writeGrid(to, form, table.grid(book))
		}
	}
	if name != LengthsName {
		return ErrNoTable
	}
	return writeGrid(to, form, lengthsGrid(book, counts))
}

// WriteResult writes a result table, which was kept as csv, by itself in one of the forms.
// Which columns are numbers is fixed by their name, so that a column has one type in every
// run.
func WriteResult(to io.Writer, form, name string, from io.Reader) error {
	in := csv.NewReader(from)
	in.ReuseRecord = true
	head, err := in.Read()
	if err != nil {
		return fmt.Errorf("reading the columns of %s: %w", name, err)
	}
	g := grid{name: name}
	for _, column := range head {
		g.columns = append(g.columns, sheetColumn{column, kindOfResult(column)})
	}
	g.rows = func(each func([][]byte) error) error {
		cells := make([][]byte, len(g.columns))
		for {
			row, err := in.Read()
			if err == io.EOF {
				return nil
			}
			if err != nil {
				return fmt.Errorf("reading %s: %w", name, err)
			}
			for i := range row {
				cells[i] = unguarded([]byte(row[i]))
			}
			if err := each(cells); err != nil {
				return err
			}
		}
	}
	return writeGrid(to, form, g)
}

// EachResult hands over the rows of a result table, which was kept as csv: the columns and
// the cells as they were before a text was guarded. Both are good until the next row.
func EachResult(from io.Reader, each func(columns, cells []string) error) error {
	in := csv.NewReader(from)
	columns, err := in.Read()
	if err != nil {
		return fmt.Errorf("reading the columns of a result: %w", err)
	}
	in.ReuseRecord = true
	for {
		row, err := in.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("reading a result: %w", err)
		}
		for i, cell := range row {
			if strings.HasPrefix(cell, "'") {
				row[i] = string(unguarded([]byte(cell)))
			}
		}
		if err := each(columns, row); err != nil {
			return err
		}
	}
}

// The columns of results that are not texts.
var (
	wholeResults = []string{"year", "quarter", "month", "age", "cohort", "annulus", "n_trips", "n_stones", "n_readings", "row"}
	numberOf     = []string{"length", "value", "se", "low", "high", "level", "filled_share", "annuli", "decimal_age", "percentile_low", "percentile_high", "bca_low", "bca_high",
		"monte_carlo_low", "monte_carlo_high", "df", "analytic_se", "sampling_se", "sampling_low", "sampling_high", "even", "tail_p", "weight", "measured", "aged",
		"offset", "sd", "offset_limit", "sd_limit", "radius_um", "edge_um", "dahl_lea", "fraser_lee", "scale_proportional", "body_proportional", "rhat", "ess", "other_side_of_zero"}
)

// kindOfResult is the type of a column of a result. What may hold a word in some table is a
// text in all.
func kindOfResult(column string) string {
	switch {
	case slices.Contains(wholeResults, column):
		return "integer"
	case slices.Contains(numberOf, column):
		return "number"
	}
	return "string"
}

func writeGrid(to io.Writer, form string, g grid) error {
	switch form {
	case "csv":
		return g.writeCSV(to)
	case "json":
		return g.writeJSON(to)
	case "parquet":
		return writeColumns(to, g)
	}
	return ErrNoTable
}

func (g grid) writeCSV(to io.Writer) error {
	w := NewWriter(to)
	for _, c := range g.columns {
		w.Text(c.name)
	}
	w.EndRow()
	err := g.rows(func(cells [][]byte) error {
		for i, cell := range cells {
			if g.columns[i].kind == "string" {
				cell = guarded(cell)
			}
			w.cell(cell)
		}
		w.EndRow()
		return nil
	})
	return errors.Join(err, w.Flush())
}

// writeJSON writes a list of objects, one a line, with the columns in the order of the
// table.
func (g grid) writeJSON(to io.Writer) error {
	names := make([][]byte, len(g.columns))
	for i, c := range g.columns {
		name, err := json.Marshal(c.name)
		if err != nil {
			return err
		}
		names[i] = name
	}
	var line bytes.Buffer
	line.WriteByte('[')
	rows := 0
	err := g.rows(func(cells [][]byte) error {
		if rows++; rows > 1 {
			line.WriteByte(',')
		}
		line.WriteString("\n{")
		for i, cell := range cells {
			if i > 0 {
				line.WriteByte(',')
			}
			line.Write(names[i])
			line.WriteByte(':')
			if err := jsonCell(&line, g.columns[i].kind, cell); err != nil {
				return err
			}
		}
		line.WriteByte('}')
		if line.Len() < 64<<10 {
			return nil
		}
		_, err := line.WriteTo(to)
		return err
	})
	if err != nil {
		return err
	}
	line.WriteString("\n]\n")
	_, err = line.WriteTo(to)
	return err
}

func jsonCell(to *bytes.Buffer, kind string, cell []byte) error {
	switch {
	case len(cell) == 0:
		to.WriteString("null")
	case kind == "number" || kind == "integer":
		if !json.Valid(cell) {
			return fmt.Errorf("tables: %q is no number", cell)
		}
		to.Write(cell)
	case kind == "boolean":
		if string(cell) == record.Yes.String() {
			to.WriteString("true")
		} else {
			to.WriteString("false")
		}
	default:
		text, err := json.Marshal(string(cell))
		if err != nil {
			return err
		}
		to.Write(text)
	}
	return nil
}

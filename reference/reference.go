// Package reference holds the numbers that tests hold the engine against: golden
// files of an independent tool, published values and open data sets.
//
// Only tests import it. Where each number comes from stands in golden/README.md,
// published/README.md, data/README.md and check-values.md beside this file.
package reference

import (
	"bytes"
	"embed"
	"encoding/csv"
	"encoding/json"
	"strconv"
	"testing"
)

//go:embed golden/*.json published/*.csv data/*.csv
var files embed.FS

// Golden decodes the golden file of a topic, "04-direct-key" say, into a struct
// that names the parts the test wants.
func Golden(t testing.TB, topic string, into any) {
	t.Helper()
	if err := json.Unmarshal(read(t, "golden/"+topic+".json"), into); err != nil {
		t.Fatalf("reading golden file %s: %v", topic, err)
	}
}

// Table is a CSV file by columns; every column has one text a row.
type Table struct {
	t       testing.TB
	name    string
	Rows    int
	columns map[string][]string
}

// Data opens a data set of data/, "iris.csv" say.
func Data(t testing.TB, name string) Table { t.Helper(); return table(t, "data/"+name) }

// Published opens a data set of published/, "vision-grades.csv" say.
func Published(t testing.TB, name string) Table { t.Helper(); return table(t, "published/"+name) }

// Text is the column as it was written; an empty text is a missing value.
func (d Table) Text(column string) []string {
	d.t.Helper()
	texts, ok := d.columns[column]
	if !ok {
		d.t.Fatalf("%s has no column %q", d.name, column)
	}
	return texts
}

// Numbers is the column as numbers; a cell that is not one fails the test.
func (d Table) Numbers(column string) []float64 {
	d.t.Helper()
	numbers := make([]float64, d.Rows)
	for i, text := range d.Text(column) {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			d.t.Fatalf("%s, row %d, %s: %q is not a number", d.name, i+2, column, text)
		}
		numbers[i] = x
	}
	return numbers
}

func table(t testing.TB, path string) Table {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(read(t, path))).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatalf("reading %s: %d rows, %v", path, len(rows), err)
	}
	d := Table{t: t, name: path, Rows: len(rows) - 1, columns: map[string][]string{}}
	for c, name := range rows[0] {
		column := make([]string, d.Rows)
		for i, row := range rows[1:] {
			column[i] = row[c]
		}
		d.columns[name] = column
	}
	return d
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	raw, err := files.ReadFile(path)
	if err != nil {
		t.Fatalf("opening %s: %v", path, err)
	}
	return raw
}

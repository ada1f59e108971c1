package tables

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// scanned are all rows that a scanner cuts.
func scanned(in *scanner) (all [][]string) {
	for in.next() {
		var row []string
		for _, cell := range in.cells {
			row = append(row, string(cell))
		}
		all = append(all, row)
	}
	return all
}

// What encoding/csv writes is cut as encoding/csv cuts it, in pieces of any size. (Line
// breaks inside quotes stay as they are, so that a cell comes back the same.)
func TestScannerAgreesWithTheStandard(t *testing.T) {
	cell := rapid.OneOf(rapid.StringMatching(`[a-z"", ;\n]{0,6}`), rapid.String())
	rapid.Check(t, func(r *rapid.T) {
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 3, 3), 1, 6).Draw(r, "rows")
		var out bytes.Buffer
		w := csv.NewWriter(&out)
		w.UseCRLF = rapid.Bool().Draw(r, "CRLF") && !strings.ContainsAny(strings.Join(slices.Concat(rows...), ""), "\r\n")
		for i := range rows {
			rows[i][0] = "x" + rows[i][0] // no row looks blank
		}
		if err := w.WriteAll(rows); err != nil {
			r.Fatal(err)
		}
		text := out.Bytes()
		if rapid.Bool().Draw(r, "without the last line break") {
			text = bytes.TrimRight(text, "\r\n")
			if last := rows[len(rows)-1]; strings.TrimRight(last[2], "\r\n") != last[2] {
				return
			}
		}
		in := newScanner(bytes.NewReader(text))
		if rapid.Bool().Draw(r, "byte by byte") {
			in = newScanner(iotest.OneByteReader(bytes.NewReader(text)))
		}
		if got := scanned(in); !slices.EqualFunc(got, rows, slices.Equal) {
			r.Fatalf("%q is cut into %q, want %q", text, got, rows)
		}
	})
}

func TestBrokenQuotesBreakTheirOwnRowOnly(t *testing.T) {
	text := "a,b,c\n" + `1,5" hook,x` + "\n" + `2,"in"side,y` + "\n\n" + `3,"never closed,z` + "\n" + strings.Repeat("4,fine,w\n", 20000)
	in := newScanner(strings.NewReader(text))
	var broken []int
	rows := 0
	for in.next() {
		rows++
		if in.broken > 0 {
			broken = append(broken, in.row)
		}
		if in.row == 7 && string(in.cells[1]) != "fine" {
			t.Errorf("the row after the open quote is cut into %q", in.cells)
		}
	}
	// Row 4 is blank: a spreadsheet counts it.
	if rows != 20004 || !slices.Equal(broken, []int{2, 3, 5}) {
		t.Errorf("%d rows with broken quotes in %d, want 20004 with 2, 3 and 5", rows, broken)
	}
}

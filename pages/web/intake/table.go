package intake

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/finding"
	"earstone/store/history"
	"earstone/store/tables"
)

var tablePage = frame.Parse(frame.Intake, files, "table.html")

const tableTitle = "Take in a table"

// The bounds of a table that is taken in on a page.
const (
	TableBytes    = 4 << 20
	unpackedBytes = 64 << 20 // of a workbook
	mostRows      = 2000
	mostColumns   = 60
	rowsShown     = 6 // of those without a problem
)

// stonesColumn says which stones are in the vial; it is of the card and not of fish.csv.
const stonesColumn = "stones"

// sheet is a table as it was pasted: header and rows of equal length.
type sheet struct {
	header []string
	rows   [][]string
}

// tableView is the page of a table.
type tableView struct {
	Paste    frame.Field
	Columns  []headCell
	Rows     []rowView
	Total    int
	Hidden   int // rows without a problem that are not shown
	Problems int // cells that can't be taken
	Doubts   int
	Seen     string
	Whole    []frame.Problem
	Said     []string
}

type headCell struct {
	Name, Text string
	Options    []frame.Option // of an unknown column
}

type rowView struct {
	Number   int
	Problems []frame.Problem
	Cells    []cellView
}

type cellView struct {
	Name, Label, Text string
	Problems          []frame.Problem
	Grave             bool
}

func pasteField(text string, focus bool) frame.Field {
	return frame.Field{Name: "sheet", Label: "Rows from a spreadsheet, with their header", Kind: "area", Value: text, Focus: focus, Span: "whole",
		Hint: "Columns: " + strings.Join(form.CardColumns, ", ") + "; and stones: both, left, right, one or none."}
}

// Table asks for a table.
func (p *Page) Table(*frame.Request) (frame.Answer, error) {
	return tablePage.Show(tableTitle, tableView{Paste: pasteField("", true)}), nil
}

// TakeTable checks a table cell by cell, and takes all of it once nothing is wrong.
func (p *Page) TakeTable(r *frame.Request) (frame.Answer, error) {
	s, whole, err := p.readSheet(r)
	if err != nil {
		return frame.Answer{}, err
	}
	if len(whole) > 0 {
		return tablePage.Again(tableTitle, tableView{Paste: pasteField(r.Typed("sheet"), true), Whole: whole}), nil
	}
	s.mend(r)
	v, entries, err := p.check(r, s)
	if err != nil {
		return frame.Answer{}, err
	}
	if v.Problems > 0 || r.Typed("take") == "" || v.Doubts > 0 && r.Typed("seen") != v.Seen {
		return tablePage.Again(tableTitle, v), nil
	}
	err = p.store.Append(r.Context(), entries...)
	if errors.Is(err, history.ErrTaken) { // a card with one of these labels came in this moment
		v.Whole = append(v.Whole, frame.Problem{Says: "One of the labels was taken in this moment by somebody else.", Do: "Check the table again.", Grave: true})
		return tablePage.Again(tableTitle, v), nil
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("keeping a table of %d cards: %w", len(s.rows), err)
	}
	return frame.Next("/intake?took=" + strconv.Itoa(len(s.rows))), nil
}

// readSheet reads the file that was sent, or else what was pasted.
func (p *Page) readSheet(r *frame.Request) (s sheet, whole []frame.Problem, err error) {
	name, content := "pasted.csv", []byte(r.Typed("sheet"))
	file, about, err := r.FormFile("file")
	switch {
	case err == nil:
		defer file.Close()
		if about.Size > 0 {
			name = "sent.csv"
			if strings.HasSuffix(strings.ToLower(about.Filename), ".xlsx") {
				name = "sent.xlsx"
			}
			if content, err = io.ReadAll(file); err != nil {
				return s, nil, fmt.Errorf("reading the file: %w", err)
			}
		}
	case !errors.Is(err, http.ErrMissingFile) && !errors.Is(err, http.ErrNotMultipart):
		return s, nil, frame.Trouble{Status: http.StatusBadRequest, Says: "The file came damaged.", Do: "Send it again."}
	}
	if len(bytes.TrimSpace(content)) == 0 {
		return s, []frame.Problem{{Says: "There is nothing to take in.", Do: "Paste rows, or choose a file.", Grave: true}}, nil
	}
	grid, found, err := p.cut(r.Context(), name, content)
	if err != nil {
		return s, nil, err
	}
	for _, f := range found.All() {
		if f.Severity == finding.Error {
			whole = append(whole, frame.ProblemOf(f))
		}
	}
	switch {
	case len(whole) > 0:
	case len(grid) < 2:
		whole = append(whole, frame.Problem{Says: "There is a header and no row, or a row and no header.", Do: "The first row names the columns.", Grave: true})
	}
	if len(whole) > 0 {
		return s, whole, nil
	}
	return newSheet(grid), nil, nil
}

// cut cuts a table within the bounds of a page. One workbook is opened at a time: it takes
// many times the memory of its file.
func (p *Page) cut(ctx context.Context, name string, content []byte) (grid [][]string, found *finding.List, err error) {
	if strings.HasSuffix(name, ".xlsx") {
		select {
		case p.workbook <- struct{}{}:
			defer func() { <-p.workbook }()
		case <-ctx.Done():
			return nil, nil, fmt.Errorf("waiting for another workbook: %w", ctx.Err())
		}
	}
	grid, found, err = tables.Grid(ctx, name, content, tables.Bounds{Rows: mostRows, Columns: mostColumns, Bytes: unpackedBytes})
	if err != nil {
		return nil, nil, fmt.Errorf("cutting a table: %w", err)
	}
	return grid, found, nil
}

// newSheet names the columns as the tables do and makes all rows as long as the header.
func newSheet(grid [][]string) (s sheet) {
	for _, name := range grid[0] {
		s.header = append(s.header, columnOf(name))
	}
	for _, row := range grid[1:] {
		for len(row) < len(s.header) {
			row = append(row, "")
		}
		s.rows = append(s.rows, row[:len(s.header)])
	}
	return s
}

// alike are headings that people write for columns of a card.
var alike = map[string]string{"label": "fish", "vial": "fish", "date": "caught_on", "caught": "caught_on", "date_caught": "caught_on",
	"sender": "contributor", "sent_by": "contributor", "unit": "length_unit", "received": "received_on", "remarks": "remark", "notes": "remark"}

func columnOf(heading string) string {
	name := strings.Join(strings.FieldsFunc(strings.ToLower(heading), func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), "_")
	if other, known := alike[name]; known {
		return other
	}
	return name
}

func known(column string) bool {
	return column == stonesColumn || column == leftOut || slices.Contains(form.CardColumns, column)
}

// leftOut is what a column is called that the person said to leave out.
const leftOut = "left_out"

// mend puts what was typed into the cells with a problem.
func (s *sheet) mend(r *frame.Request) {
	for i := range s.header {
		if chosen := r.PostForm.Get("h-" + strconv.Itoa(i)); known(chosen) {
			s.header[i] = chosen
		}
	}
	for i, row := range s.rows {
		for j := range row {
			if typed, there := r.PostForm[cellName(i, j)]; there {
				row[j] = strings.TrimSpace(typed[0])
			}
		}
	}
}

func cellName(row, column int) string { return fmt.Sprintf("c-%d-%d", row, column) }

// text is the sheet as it goes back and forth.
func (s sheet) text() string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(s.header) // a strings.Builder takes all
	_ = w.WriteAll(s.rows)
	return b.String()
}

// cells are those of one row, by column; what the table leaves out is the usual of the
// programme.
func (s sheet) cells(row []string, usual form.Cells) form.Cells {
	cells := form.Cells{}
	for column, text := range usual {
		if !slices.Contains(s.header, column) {
			cells[column] = text
		}
	}
	for i, column := range s.header {
		if column != leftOut && row[i] != "" {
			cells[column] = row[i]
		}
	}
	return cells
}

// check reads each row as a card, and gives the entries of all of them.
func (p *Page) check(r *frame.Request, s sheet) (v tableView, entries []*history.Entry, err error) {
	lists, err := p.desk.Lists(r.Context())
	if err != nil {
		return v, nil, err
	}
	v = tableView{Paste: pasteField(s.text(), false), Total: len(s.rows)}
	v.heads(s)
	usual := form.Cells{}
	if codes := lists.Settings.Species; len(codes) == 1 {
		usual["species"] = string(codes[0])
	}
	v.assume(s, usual)
	if !slices.Contains(s.header, "fish") {
		v.Whole = append(v.Whole, frame.Problem{Says: "No column holds the labels.", Do: "Name it fish, or choose it above the table.", Grave: true})
		v.Problems++
	}
	first := map[string]int{}
	seals := sheet{}
	named := map[string]bool{}
	for i, row := range s.rows {
		cells := s.cells(row, usual)
		typed, err := p.desk.Fish(r.Context(), cells)
		if err != nil {
			return v, nil, err
		}
		more, err := p.clashes(r, typed, first, i)
		if err != nil {
			return v, nil, err
		}
		sides, chosen := sidesOf[defaulted(cells[stonesColumn], "both")]
		if !chosen {
			more[stonesColumn] = append(more[stonesColumn], frame.Problem{Says: "“" + cells[stonesColumn] + "” says not which stones are in the vial.", Do: "Write both, left, right, one or none.", Grave: true})
		}
		v.row(i, s, row, typed, more)
		if typed.Doubtful() {
			seals.rows = append(seals.rows, []string{typed.Seal()})
		}
		typed.New = slices.DeleteFunc(typed.New, func(n form.New) bool { // each new name once
			key := string(n.Kind) + " " + history.Label(n.Kind, n.Fields)
			again := named[key]
			named[key] = true
			return again
		})
		entries = append(entries, Entries(typed, sides, r.By(), p.now())...)
	}
	v.Seen = seals.seal()
	return v, entries, nil
}

func defaulted(text, usual string) string {
	if text == "" {
		return usual
	}
	return strings.ToLower(text)
}

// clashes are labels that stand twice, in the table or in the programme.
func (p *Page) clashes(r *frame.Request, typed form.Typed, first map[string]int, row int) (map[string][]frame.Problem, error) {
	more := map[string][]frame.Problem{}
	label := typed.Fields["fish"]
	if label == "" {
		return more, nil
	}
	if at, twice := first[label]; twice {
		more["fish"] = append(more["fish"], frame.Problem{Says: fmt.Sprintf("Row %d has this label already.", at+2), Do: "One of the two is wrong.", Grave: true})
		return more, nil
	}
	first[label] = row
	taken, err := p.desk.Taken(r.Context(), label)
	if err != nil {
		return nil, err
	}
	if _, there := taken[label]; there {
		more["fish"] = append(more["fish"], frame.Problem{Says: "A fish with this label is here already.", Do: "Leave the row out, or look at the vial again.", Grave: true})
	}
	return more, nil
}

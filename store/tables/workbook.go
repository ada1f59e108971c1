package tables

import (
	"archive/zip"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"earstone/programme/finding"
)

// The bounds of a workbook. A workbook is a zip file: what it says of its size when
// unpacked is held against them before anything is unpacked.
const (
	maxWorkbook      = 256 << 20 // bytes of the file
	maxUnpacked      = 2 << 30   // bytes of all that it holds
	maxRatio         = 200       // times as large when unpacked: honest sheets stay under 50
	maxParts         = 2000
	unpackedInMemory = 16 << 20
	maxSheetRows     = 1 << 20 // what the format itself allows
)

// settingsSheet is the sheet that stands for programme.json: columns key and value.
const settingsSheet = "programme"

// workbook is an open XLSX file.
type workbook struct {
	path string
	file *excelize.File
	in   Input
	rows map[string]int // of each sheet that was read
}

func (w *workbook) close() error { return w.file.Close() }

// locateSheets opens a workbook and finds the tables among its sheets.
func (t *Tables) locateSheets(name string) error {
	p := newPage(name, &t.found, nil)
	in, err := t.open(name, maxWorkbook)
	if err != nil {
		return p.unreachable(err)
	}
	defer in.Close()
	content, err := io.ReadAll(in)
	if err != nil {
		return p.trouble(err)
	}
	file := openWorkbook(p, content, maxUnpacked)
	if file == nil {
		return nil
	}
	w := &workbook{name, file, Input{name, hex.EncodeToString(in.sum.Sum(nil)), 0, in.bytes}, map[string]int{}}
	t.books = append(t.books, w)
	t.count(w.in)
	for _, sheet := range file.GetSheetList() {
		t.locateTable(strings.ToLower(strings.TrimSpace(sheet)), place{name, sheet, w})
	}
	return nil
}

// openWorkbook is nil when the bytes are no workbook of at most so many bytes unpacked,
// which is found.
func openWorkbook(p *page, content []byte, most uint64) (file *excelize.File) {
	if !unpackable(p, content, most) {
		return nil
	}
	defer func() {
		if recover() != nil { // the library trips over some damaged files
			p.refuse("damaged_workbook")
			file = nil
		}
	}()
	file, err := excelize.OpenReader(bytes.NewReader(content), excelize.Options{
		RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: unpackedInMemory})
	if err != nil {
		p.refuse("damaged_workbook")
		return nil
	}
	return file
}

// unpackable holds a zip file against the bounds, and asks whether each part that holds
// cells is whole: the library ends a sheet silently where its XML breaks off.
func unpackable(p *page, content []byte, most uint64) bool {
	parts, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	if err != nil {
		p.refuse("damaged_workbook")
		return false
	}
	if !bounded(p, parts, len(content), most) {
		return false
	}
	for _, part := range parts.File {
		switch err := sound(part); {
		case err == errCrowded:
			p.found.Add(finding.TooLarge, finding.Place{File: p.file}, "", "crowded", strconv.Itoa(maxDepth))
			return false
		case err != io.EOF && holdsCells(part.Name):
			p.refuse("damaged_workbook")
			return false
		}
	}
	return true
}

// bounded holds what a zip file says of its parts against the bounds.
func bounded(p *page, parts *zip.Reader, size int, most uint64) bool {
	if len(parts.File) > maxParts {
		p.found.Add(finding.TooLarge, finding.Place{File: p.file}, "", "parts", strconv.Itoa(maxParts))
		return false
	}
	var unpacked uint64
	for _, part := range parts.File {
		if part.UncompressedSize64 > most {
			unpacked = most
		}
		unpacked += part.UncompressedSize64
		if unpacked > most || unpacked > maxRatio*uint64(size) && unpacked > unpackedInMemory {
			p.found.Add(finding.TooLarge, finding.Place{File: p.file}, "", "unpacked", strconv.FormatUint(most, 10))
			return false
		}
	}
	return true
}

// readingSheet hands the rows of a sheet to take. The library trips over some damaged
// sheets: that is found, and the sheet is not believed.
func (t *Tables) readingSheet(where place, p *page, take func(*page, rows) (int, error)) (err error) {
	in, opened := openSheet(where.book.file, where.sheet)
	if !opened {
		p.refuse("damaged_workbook")
		return nil
	}
	defer in.close()
	p.sheet, p.era1904 = true, in.era1904
	n, err := take(p, in)
	if in.damaged {
		p.refuse("damaged_workbook")
	}
	where.book.in.Rows += n - where.book.rows[where.sheet]
	where.book.rows[where.sheet] = n
	t.count(where.book.in)
	return err
}

// sheet cuts one sheet into rows.
type sheet struct {
	in      *excelize.Rows
	era1904 bool
	row     int
	cells   [][]byte
	buf     []byte
	damaged bool
	trouble error
}

func openSheet(file *excelize.File, name string) (s *sheet, ok bool) {
	defer func() {
		if recover() != nil {
			s, ok = nil, false
		}
	}()
	in, err := file.Rows(name)
	if err != nil {
		return nil, false
	}
	s = &sheet{in: in}
	if about, err := file.GetWorkbookProps(); err == nil && about.Date1904 != nil {
		s.era1904 = *about.Date1904
	}
	return s, true
}

func (s *sheet) close() { s.in.Close() }

func (s *sheet) next() bool {
	for {
		texts, ok := s.step()
		if !ok {
			return false
		}
		s.cells, s.buf = s.cells[:0], s.buf[:0]
		for _, text := range texts {
			s.buf = append(s.buf, text...)
		}
		from := 0
		for _, text := range texts {
			s.cells = append(s.cells, s.buf[from:from+len(text)])
			from += len(text)
		}
		if !blank(s.cells) {
			return true
		}
	}
}

func (s *sheet) step() (texts []string, ok bool) {
	defer func() {
		if recover() != nil {
			s.damaged, ok = true, false
		}
	}()
	if s.row++; s.row > maxSheetRows {
		s.trouble = tooLarge{"rows", maxSheetRows}
		return nil, false
	}
	if !s.in.Next() {
		s.damaged = s.damaged || s.in.Error() != nil
		return nil, false
	}
	texts, err := s.in.Columns(excelize.Options{RawCellValue: true})
	if err != nil {
		s.damaged = true
		return nil, false
	}
	s.trouble = overlong(texts)
	return texts, s.trouble == nil
}

// overlong is the trouble of a row that is past a bound.
func overlong(texts []string) error {
	bytes := 0
	for _, text := range texts {
		if bytes += len(text); bytes > maxRecord {
			return tooLarge{"row", maxRecord}
		}
	}
	if len(texts) > maxColumns { // the last of them is no blank: the library leaves blanks out
		return tooLarge{"columns", maxColumns}
	}
	return nil
}

func (s *sheet) at() (cells [][]byte, row, broken int) { return s.cells, s.row, 0 }
func (s *sheet) err() error                            { return s.trouble }

// settingsText is the JSON that a settings sheet stands for: each row a key and its
// value, which is JSON (5, ["BFT"], {"width": 5}) or else plain text.
func (w *workbook) settingsText(p *page, name string) ([]byte, error) {
	in, opened := openSheet(w.file, name)
	if !opened {
		p.refuse("damaged_workbook")
		return nil, nil
	}
	defer in.close()
	text := []byte("{")
	for in.next() {
		if in.row == 1 || len(in.cells) < 2 {
			continue
		}
		if len(text) > 1 {
			text = append(text, ",\n"...)
		}
		text = appendJSON(text, string(trim(in.cells[0])))
		text = append(text, ':')
		if value := trim(in.cells[1]); json.Valid(value) {
			text = append(text, value...)
		} else {
			text = appendJSON(text, string(value))
		}
		if len(text) > maxJSON {
			return nil, p.trouble(tooLarge{"file", maxJSON})
		}
	}
	if in.damaged {
		p.refuse("damaged_workbook")
		return nil, nil
	}
	return append(text, '}'), p.trouble(in.trouble)
}

func appendJSON(b []byte, text string) []byte {
	quoted, err := json.Marshal(text)
	if err != nil { // a string always can be
		panic("tables: " + err.Error())
	}
	return append(b, quoted...)
}

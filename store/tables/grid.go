package tables

import (
	"bytes"
	"strings"

	"earstone/programme/finding"
)

// Grid cuts one table into cells as they stand, header first and blank rows left out,
// without judging any of them: the first sheet of a workbook, or text parted by commas,
// semicolons or tabs. A day that a workbook keeps as a number is written as a day where
// its column is called one (caught_on, read_at). What can't be cut is found.
func Grid(name string, content []byte) ([][]string, *finding.List) {
	found := &finding.List{}
	p := newPage(name, found, map[string]string{})
	if isWorkbook(name) {
		return sheetGrid(p, content), found
	}
	s := newScanner(bytes.NewReader(content))
	if header, _, _ := bytes.Cut(content, []byte("\n")); bytes.Count(header, []byte("\t")) > bytes.Count(header, []byte(",")) {
		s.separator = '\t'
	}
	tabs := s.separator == '\t'
	if !s.opening(p) {
		return nil, found
	}
	if tabs {
		s.separator = '\t'
	}
	return cut(p, s), found
}

func sheetGrid(p *page, content []byte) [][]string {
	file := openWorkbook(p, content)
	if file == nil {
		return nil
	}
	defer file.Close()
	names := file.GetSheetList()
	if len(names) == 0 {
		p.refuse("damaged_workbook")
		return nil
	}
	in, opened := openSheet(file, names[0])
	if !opened {
		p.refuse("damaged_workbook")
		return nil
	}
	defer in.close()
	all := cut(p, in)
	for i := 1; i < len(all); i++ {
		for at, text := range all[i] {
			if at >= len(all[0]) || !strings.HasSuffix(all[0][at], "_on") && !strings.HasSuffix(all[0][at], "_at") {
				continue
			}
			if day, is := fromSerial([]byte(text), in.era1904); is {
				all[i][at] = day.String()
			}
		}
	}
	if in.damaged {
		p.refuse("damaged_workbook")
		return nil
	}
	return all
}

// cut are the cells of all rows, without the blanks around them.
func cut(p *page, in rows) (all [][]string) {
	for in.next() {
		cells, row, broken := in.at()
		p.row = row
		if broken > 0 {
			p.add(finding.BrokenQuote, cells[broken-1])
		}
		texts := make([]string, len(cells))
		for i, cell := range cells {
			texts[i] = string(p.clean(cell))
		}
		all = append(all, texts)
	}
	if in.err() != nil {
		if p.trouble(in.err()) != nil {
			p.refuse("unknown_signs")
		}
		return nil
	}
	return all
}

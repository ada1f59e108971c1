package tables

import (
	"bytes"
	"context"
	"strings"

	"earstone/programme/finding"
)

// Bounds are those of a table that is held whole: its rows without the header, its columns,
// and the bytes of all that it holds when unpacked and of all its cells.
type Bounds struct {
	Rows, Columns int
	Bytes         int64
}

// Grid cuts one table into cells as they stand, header first and blank rows left out,
// without judging any of them: the first sheet of a workbook, or text parted by commas,
// semicolons or tabs. A day that a workbook keeps as a number is written as a day where
// its column is called one (caught_on, read_at). What can't be cut is found, and so is the
// first thing past a bound, at which the cutting ends. The error is that of the context.
func Grid(ctx context.Context, name string, content []byte, most Bounds) ([][]string, *finding.List, error) {
	found := &finding.List{}
	p := newPage(name, found, map[string]string{})
	if isWorkbook(name) {
		all, err := sheetGrid(ctx, p, content, most)
		return all, found, err
	}
	s := newScanner(bytes.NewReader(content))
	if header, _, _ := bytes.Cut(content, []byte("\n")); bytes.Count(header, []byte("\t")) > bytes.Count(header, []byte(",")) {
		s.separator = '\t'
	}
	tabs := s.separator == '\t'
	if !s.opening(p) {
		return nil, found, nil
	}
	if tabs {
		s.separator = '\t'
	}
	all, err := cut(ctx, p, s, most)
	return all, found, err
}

func sheetGrid(ctx context.Context, p *page, content []byte, most Bounds) ([][]string, error) {
	file := openWorkbook(p, content, uint64(most.Bytes))
	if file == nil {
		return nil, nil
	}
	defer file.Close()
	names := file.GetSheetList()
	if len(names) == 0 {
		p.refuse("damaged_workbook")
		return nil, nil
	}
	in, opened := openSheet(file, names[0])
	if !opened {
		p.refuse("damaged_workbook")
		return nil, nil
	}
	defer in.close()
	all, err := cut(ctx, p, in, most)
	if err != nil {
		return nil, err
	}
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
		return nil, nil
	}
	return all, nil
}

// cut are the cells of all rows, without the blanks around them.
func cut(ctx context.Context, p *page, in rows, most Bounds) (all [][]string, err error) {
	var bytes int64
	for in.next() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		cells, row, broken := in.at()
		last := 0
		p.row = row
		if broken > 0 {
			p.add(finding.BrokenQuote, cells[broken-1])
		}
		for i, cell := range cells {
			bytes += int64(len(cell))
			if len(trim(cell)) > 0 {
				last = i + 1
			}
		}
		if large := most.past(len(all), last, bytes); large != nil {
			return nil, p.trouble(large)
		}
		cells = cells[:min(len(cells), most.Columns)] // the rest is blank
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
		return nil, nil
	}
	return all, nil
}

// past is the trouble of a row behind so many, header counted, with so many cells and so
// many bytes in all up to it.
func (b Bounds) past(before, cells int, bytes int64) error {
	switch {
	case before > b.Rows:
		return tooLarge{"rows", int64(b.Rows)}
	case cells > b.Columns:
		return tooLarge{"columns", int64(b.Columns)}
	case bytes > b.Bytes:
		return tooLarge{"held", b.Bytes}
	}
	return nil
}

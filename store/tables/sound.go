package tables

import (
	"archive/zip"
	"bufio"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
)

// The bounds of the XML within a workbook. They are held against a part before the library
// builds anything from it: it copies a whole row before it hands out a cell.
const (
	maxDepth  = 64          // elements within each other; sheets have 8
	maxShared = 2 * maxCell // bytes of one text: 32,767 signs, the most of the format, fit in
	maxStride = 4 * maxCell // bytes from one < to the next in a part that holds cells
)

// errCrowded is XML that no spreadsheet writes, and that would fill the memory.
var errCrowded = errors.New("tables: XML beyond its bounds")

// charsets are those whose marks of XML are those of ASCII, so that what is counted here is
// what the library will see.
var charsets = []string{"us-ascii", "ascii", "iso-8859-1", "windows-1252"}

// holdsCells tells the parts of a workbook that cells are read from: its sheets and the
// texts that they share.
func holdsCells(part string) bool {
	part = strings.ToLower(strings.ReplaceAll(part, `\`, "/"))
	return strings.HasSuffix(part, ".xml") && (strings.Contains(part, "worksheets/") || strings.HasSuffix(part, "sharedstrings.xml"))
}

// sound reads a part to its end. The error is io.EOF for XML that is whole, errCrowded for
// XML beyond its bounds and otherwise that of whatever is no XML.
func sound(part *zip.File) error {
	in, err := part.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	most := maxRecord
	if holdsCells(part.Name) {
		most = maxStride
	}
	d := xml.NewDecoder(bufio.NewReaderSize(&strides{in: in, most: most}, 64<<10))
	d.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		if !slices.Contains(charsets, strings.ToLower(label)) {
			return nil, errCrowded
		}
		return in, nil
	}
	var now counts
	for {
		token, err := d.Token()
		if err != nil {
			if strings.Contains(err.Error(), errCrowded.Error()) { // the decoder wraps some in text
				return errCrowded
			}
			return err
		}
		if !now.take(token) {
			return errCrowded
		}
	}
}

// counts are what is open where the reader of XML stands.
type counts struct {
	depth, values, text int
	rows, cell          bool // a row was seen; a cell or a shared text is open
}

// take counts a token; false is past a bound. Cells count on behind the end of their row,
// as they do for the library.
func (c *counts) take(token xml.Token) bool {
	switch t := token.(type) {
	case xml.StartElement:
		c.depth++
		switch t.Name.Local {
		case "row":
			c.rows, c.values = true, 0
		case "v", "f", "is": // a cell has one or two of them
			c.values++
		case "si", "c":
			c.cell, c.text = true, 0
		}
	case xml.EndElement:
		c.depth--
		if t.Name.Local == "si" || t.Name.Local == "c" {
			c.cell = false
		}
	case xml.CharData:
		c.text += len(t)
	}
	return c.depth <= maxDepth && (!c.rows || c.values <= 2*maxColumns) && (!c.cell || c.text <= maxShared)
}

// strides reads XML as long as no mark and no text in it is longer than most bytes: the
// decoder holds each as a whole.
type strides struct {
	in    io.Reader
	most  int
	since int // bytes since the last <
}

func (s *strides) Read(to []byte) (int, error) {
	n, err := s.in.Read(to)
	for _, sign := range to[:n] {
		if s.since++; sign == '<' {
			s.since = 0
		}
		if s.since > s.most {
			return 0, errCrowded
		}
	}
	return n, err
}

package tables

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"io"
	"slices"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// The bounds of a Parquet file: what it says of itself is held against them before the
// library makes room for it.
const (
	usualPages = 64 << 20 // bytes of all pages unpacked that any file may have
	mostValues = 1 << 24  // of one page
	mostFixed  = 256      // bytes of a value of fixed length
)

// Trouble with a Parquet file before any of it is read.
var (
	errDamaged = errors.New("tables: a damaged Parquet file")
	errCodec   = errors.New("tables: a Parquet file packed in a way that is not read")
)

// packings are the ways of packing that are read. The others are rare, and the library
// takes what their bytes say of their size for granted.
var packings = []format.CompressionCodec{format.Uncompressed, format.Snappy, format.Gzip, format.Zstd}

// mostPages is how many bytes all pages of a file may unpack to.
func mostPages(size int) int64 {
	return min(maxUnpacked, max(usualPages, maxRatio*int64(size)))
}

// openParquet opens a Parquet file that is within its bounds.
func openParquet(content []byte) (*parquet.File, error) {
	if !describes(content) {
		return nil, errDamaged
	}
	file, err := parquet.OpenFile(bytes.NewReader(content), int64(len(content)), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, errDamaged
	}
	about := file.Metadata()
	for i := range about.Schema {
		if length := about.Schema[i].TypeLength; length.Valid && (length.V < 0 || length.V > mostFixed) {
			return nil, errDamaged
		}
	}
	walk := pageWalk{content: content, left: mostPages(len(content))}
	said := walk.left
	for _, group := range about.RowGroups {
		for i := range group.Columns {
			m := &group.Columns[i].MetaData
			if m.TotalUncompressedSize < 0 {
				return nil, errDamaged
			}
			if said -= m.TotalUncompressedSize; said < 0 {
				return nil, walk.tooLarge()
			}
			if err := walk.chunk(m, group.NumRows); err != nil {
				return nil, err
			}
		}
	}
	return file, nil
}

// describes tells whether a file ends with a description of itself within the bounds.
func describes(content []byte) bool {
	const mark = "PAR1"
	end := len(content) - 8
	if end < len(mark) || string(content[:4]) != mark || string(content[end+4:]) != mark {
		return false
	}
	size := int64(binary.LittleEndian.Uint32(content[end:]))
	if size > maxFooter || size > int64(end-len(mark)) {
		return false
	}
	c := compact{in: content[end-int(size) : end], see: func(int, int, int64) {}}
	return c.structure(0, 0)
}

// pageWalk goes from page to page of a file.
type pageWalk struct {
	content []byte
	left    int64 // bytes that the pages to come may unpack to
}

func (w *pageWalk) tooLarge() error { return tooLarge{"pages", mostPages(len(w.content))} }

// chunk walks the pages of one column in one group of so many rows. The library fills up
// rows without end where a column holds fewer values.
func (w *pageWalk) chunk(m *format.ColumnMetaData, rows int64) error {
	if !slices.Contains(packings, m.Codec) {
		return errCodec
	}
	from, size := m.DataPageOffset, m.TotalCompressedSize
	if m.DictionaryPageOffset != 0 {
		from = m.DictionaryPageOffset
	}
	if from < 0 || size < 0 || from > int64(len(w.content)) || size > int64(len(w.content))-from {
		return errDamaged
	}
	for rest := w.content[from : from+size]; len(rest) > 0; {
		page, body, ok := nextPage(rest)
		if !ok {
			return errDamaged
		}
		if w.left -= page.unpacked; w.left < 0 {
			return w.tooLarge()
		}
		if !page.unpacks(m.Codec, body[:page.size]) {
			return errDamaged
		}
		rows -= page.values
		rest = body[page.size:]
	}
	if rows != 0 {
		return errDamaged
	}
	return nil
}

// The types of data pages; the levels of the second kind are never packed.
const firstKind, secondKind = 0, 3

// pageFacts are what the header of a page says.
type pageFacts struct {
	kind, unpacked, size int64
	values               int64    // of a data page
	levels               [2]int64 // bytes of a page of the second kind before those that are packed
	open                 bool     // a page of the second kind is not packed
}

// nextPage cuts the header off a page; false when it is damaged or past a bound.
func nextPage(in []byte) (p pageFacts, body []byte, ok bool) {
	ok = true
	var values [9]int64 // by the field in which each kind of page has its header
	c := compact{in: in, see: func(within, field int, value int64) {
		switch {
		case within == 0 && field == 1:
			p.kind = value
		case within == 0 && field == 2:
			p.unpacked = value
		case within == 0 && field == 3:
			p.size = value
		case field == valuesField && (within == 5 || within == 7 || within == 8):
			ok = ok && value >= 0 && value <= mostValues
			values[within] = value
		case within == 8 && (field == 5 || field == 6):
			ok = ok && value >= 0 && value <= int64(len(in))
			p.levels[field-5] = value
		case within == 8 && field == 7:
			p.open = value != 1
		}
	}}
	ok = c.structure(0, 0) && ok
	p.values = values[map[int64]int{firstKind: 5, secondKind: 8}[p.kind]]
	body = in[c.at:]
	return p, body, ok && p.unpacked >= 0 && p.size >= 0 && p.size <= int64(len(body)) && p.plain() <= min(p.size, p.unpacked)
}

// plain is how many bytes stand before those that are packed.
func (p *pageFacts) plain() int64 {
	if p.kind != secondKind {
		return 0
	}
	return p.levels[0] + p.levels[1]
}

// unpacks tells whether the bytes of a page unpack to no more than its header says. They
// are unpacked here once for nothing: the library believes them.
func (p *pageFacts) unpacks(codec format.CompressionCodec, body []byte) bool {
	most := p.unpacked - p.plain()
	if body = body[p.plain():]; len(body) == 0 || p.kind == secondKind && p.open {
		return true
	}
	switch codec {
	case format.Snappy: // which says at its beginning what it unpacks to
		n, width := binary.Uvarint(body)
		return width > 0 && n <= uint64(most)
	case format.Gzip:
		in, err := gzip.NewReader(bytes.NewReader(body))
		return err == nil && stays(in, most)
	case format.Zstd:
		in, err := zstd.NewReader(bytes.NewReader(body), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxUnpacked))
		if err != nil {
			return false
		}
		defer in.Close()
		return stays(in, most)
	}
	return true
}

// stays tells whether in ends without trouble before it gives more than most bytes.
func stays(in io.Reader, most int64) bool {
	n, err := io.Copy(io.Discard, io.LimitReader(in, most+1))
	return err == nil && n <= most
}

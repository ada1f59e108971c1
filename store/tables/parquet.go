package tables

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"

	"earstone/programme/record"
)

// columnsKey is the note in a Parquet file that tells the order of its columns, which the
// format itself does not keep.
const columnsKey = "earstone.columns"

func isParquet(name string) bool { return strings.EqualFold(path.Ext(name), ".parquet") }

// writeParquet writes programme.json and one Parquet file a table, with numbers as numbers.
func (f Folder) writeParquet(book *record.Book, counts Counts) error {
	settings, err := SettingsJSON(book.Settings)
	if err != nil {
		return err
	}
	if err := f.WriteFile(settingsFile, settings); err != nil {
		return err
	}
	for _, table := range grids(book, counts) {
		if err := f.Write(table.name+".parquet", func(to io.Writer) error { return writeColumns(to, table) }); err != nil {
			return err
		}
	}
	return nil
}

func writeColumns(to io.Writer, table grid) (err error) {
	group := parquet.Group{}
	var names []string
	for _, c := range table.columns {
		group[c.name] = parquet.Compressed(parquet.Optional(leaf(c.kind)), &parquet.Zstd)
		names = append(names, c.name)
	}
	order, err := json.Marshal(names)
	if err != nil {
		return err
	}
	out := parquet.NewWriter(to, parquet.NewSchema(table.name, group), parquet.KeyValueMetadata(columnsKey, string(order)),
		parquet.MaxRowsPerRowGroup(1<<20))
	place := slices.Sorted(slices.Values(names)) // the format orders columns by name
	at := make([]int, len(names))
	for i, name := range names {
		at[i], _ = slices.BinarySearch(place, name)
	}
	row := make(parquet.Row, len(names))
	err = table.rows(func(texts [][]byte) error {
		for i, text := range texts {
			value, err := parquetValue(table.columns[i].kind, text)
			if err != nil {
				return err
			}
			defined := 1
			if len(text) == 0 {
				defined = 0
			}
			row[at[i]] = value.Level(0, defined, at[i])
		}
		_, err := out.WriteRows([]parquet.Row{row})
		return err
	})
	return errors.Join(err, out.Close())
}

func leaf(kind string) parquet.Node {
	switch kind {
	case "number":
		return parquet.Leaf(parquet.DoubleType)
	case "integer":
		return parquet.Leaf(parquet.Int64Type)
	case "boolean":
		return parquet.Leaf(parquet.BooleanType)
	}
	return parquet.String()
}

func parquetValue(kind string, text []byte) (parquet.Value, error) {
	if len(text) == 0 {
		return parquet.NullValue(), nil
	}
	switch kind {
	case "number":
		x, err := strconv.ParseFloat(string(text), 64)
		return parquet.DoubleValue(x), err
	case "integer":
		n, err := strconv.ParseInt(string(text), 10, 64)
		return parquet.Int64Value(n), err
	case "boolean":
		return parquet.BooleanValue(string(text) == record.Yes.String()), nil
	}
	return parquet.ByteArrayValue(bytes.Clone(text)), nil
}

// maxParquet is how large a Parquet file may be, in bytes.
const maxParquet = 1 << 30

// readingParquet hands the rows of a Parquet file to take.
func (t *Tables) readingParquet(in *file, p *page, take func(*page, rows) (int, error)) (n int, err error) {
	content, err := io.ReadAll(in)
	if err != nil {
		return 0, p.trouble(err)
	}
	c := &columnar{}
	var large tooLarge
	switch err := c.open(content); {
	case errors.Is(err, errCodec):
		p.refuse("parquet_codec")
		return 0, nil
	case errors.As(err, &large):
		return 0, p.trouble(large)
	case err != nil:
		p.refuse("damaged_parquet")
		return 0, nil
	}
	defer c.close()
	p.plain = true
	n, err = take(p, c)
	if c.damaged {
		p.refuse("damaged_parquet")
	}
	return n, err
}

// columnar cuts a Parquet file into rows of texts, the names of its columns first.
type columnar struct {
	in      parquet.Rows
	names   []string
	order   []int // for each column of the file, its place among names
	buf     [256]parquet.Row
	left    []parquet.Row
	row     int
	cells   [][]byte
	damaged bool
	ended   bool
}

// open says why the content can't be read: the library trips over some damaged files.
func (c *columnar) open(content []byte) (err error) {
	defer func() {
		if recover() != nil {
			err = errDamaged
		}
	}()
	file, err := openParquet(content)
	if err != nil {
		return err
	}
	var inFile []string
	for _, field := range file.Schema().Fields() {
		if !field.Leaf() || field.Repeated() {
			return errDamaged
		}
		inFile = append(inFile, field.Name())
	}
	c.names = inFile
	var told []string
	if note, there := file.Lookup(columnsKey); there && json.Unmarshal([]byte(note), &told) == nil &&
		slices.Equal(slices.Sorted(slices.Values(told)), slices.Sorted(slices.Values(inFile))) {
		c.names = told
	}
	for _, name := range inFile {
		c.order = append(c.order, slices.Index(c.names, name))
	}
	c.cells = make([][]byte, len(c.names))
	if c.ended = len(file.RowGroups()) == 0; !c.ended {
		c.in = parquet.MultiRowGroup(file.RowGroups()...).Rows()
	}
	return nil
}

func (c *columnar) close() {
	if c.in != nil {
		_ = c.in.Close() // it was read only
	}
}

func (c *columnar) next() bool {
	if c.row++; c.row == 1 {
		for i, name := range c.names {
			c.cells[i] = append(c.cells[i][:0], name...)
		}
		return true
	}
	for len(c.left) == 0 {
		if c.ended || c.damaged {
			return false
		}
		c.fill()
	}
	for i := range c.cells {
		c.cells[i] = c.cells[i][:0]
	}
	for _, value := range c.left[0] {
		if at := value.Column(); at >= 0 && at < len(c.order) && !value.IsNull() {
			to := c.order[at]
			c.cells[to] = appendValue(c.cells[to], value)
		}
	}
	c.left = c.left[1:]
	return true
}

// fill reads more rows.
func (c *columnar) fill() {
	defer func() {
		if recover() != nil {
			c.damaged = true
		}
	}()
	n, err := c.in.ReadRows(c.buf[:])
	c.left = c.buf[:n]
	c.ended = err == io.EOF
	c.damaged = err != nil && err != io.EOF || n == 0 && err == nil
}

func appendValue(b []byte, v parquet.Value) []byte {
	switch v.Kind() {
	case parquet.Boolean:
		return strconv.AppendBool(b, v.Boolean())
	case parquet.Int32:
		return strconv.AppendInt(b, int64(v.Int32()), 10)
	case parquet.Int64:
		return strconv.AppendInt(b, v.Int64(), 10)
	case parquet.Float:
		return strconv.AppendFloat(b, float64(v.Float()), 'g', -1, 32)
	case parquet.Double:
		return appendNumber(b, v.Double())
	}
	return append(b, v.ByteArray()...)
}

func (c *columnar) at() (cells [][]byte, row, broken int) { return c.cells, c.row, 0 }
func (c *columnar) err() error                            { return nil }

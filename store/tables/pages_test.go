package tables

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"slices"
	"testing"
	"testing/fstest"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress"
	"github.com/parquet-go/parquet-go/format"

	"earstone/programme/finding"
	"earstone/programme/record"
)

type packedRow struct {
	Fish   string  `parquet:"fish,dict"`
	Length float64 `parquet:"length,optional"`
}

// packedBy is a Parquet file of 100 rows that is packed in one way.
func packedBy(t testing.TB, codec compress.Codec, options ...parquet.WriterOption) []byte {
	t.Helper()
	var out bytes.Buffer
	w := parquet.NewGenericWriter[packedRow](&out, append(options, parquet.Compression(codec))...)
	for i := range 100 {
		if _, err := w.Write([]packedRow{{"EB-" + string(rune('A'+i%26)), float64(i)}}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// rowsIn are the rows of a Parquet file, header first, and whether all of it was believed.
func rowsIn(content []byte) (rows [][]string, whole bool) {
	c := &columnar{}
	if c.open(content) != nil {
		return nil, false
	}
	defer c.close()
	for c.next() {
		var row []string
		for _, cell := range c.cells {
			row = append(row, string(cell))
		}
		rows = append(rows, row)
	}
	return rows, !c.damaged
}

func TestHowAParquetFileMayBePacked(t *testing.T) {
	for name, codec := range map[string]compress.Codec{"nothing": &parquet.Uncompressed, "snappy": &parquet.Snappy, "gzip": &parquet.Gzip, "zstd": &parquet.Zstd} {
		for version := 1; version <= 2; version++ {
			rows, whole := rowsIn(packedBy(t, codec, parquet.DataPageVersion(version)))
			if !whole || len(rows) != 101 || !slices.Equal(rows[27], []string{"EB-A", "26"}) {
				t.Errorf("a file packed by %s in pages of version %d gives %d rows, want 101", name, version, len(rows))
			}
		}
	}
	for name, codec := range map[string]compress.Codec{"lz4": &parquet.Lz4Raw, "brotli": &parquet.Brotli} {
		found := opened(t, map[string]string{"fish.parquet": string(packedBy(t, codec))})
		book(t, found)
		if got := told(found.Findings()); !slices.Contains(got, `not_readable fish.parquet:0: "" ["parquet_codec"]`) {
			t.Errorf("a file packed by %s is told as %q", name, got)
		}
	}
}

// TestParquetOfWrongSizes: no size that a file says of itself makes room for more than it
// could hold. Found by an attack: a damaged size asked for 32 GB, which ends the program.
func TestParquetOfWrongSizes(t *testing.T) {
	zeros := make([]byte, 64<<20)
	var zipped bytes.Buffer
	w := gzip.NewWriter(&zipped)
	_, _ = w.Write(zeros)
	_ = w.Close()
	z, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	for codec, body := range map[format.CompressionCodec][]byte{
		format.Gzip: zipped.Bytes(), format.Zstd: z.EncodeAll(zeros, nil), format.Snappy: binary.AppendUvarint(nil, 1<<32-1),
	} {
		p := pageFacts{unpacked: 1000, size: int64(len(body))}
		if p.unpacks(codec, body) {
			t.Errorf("a page of %d bytes by %v is taken for one of 1000", len(zeros), codec)
		}
		if p.unpacked = 1 << 32; codec != format.Snappy && !p.unpacks(codec, body) {
			t.Errorf("a page by %v of less than its header says is refused", codec)
		}
	}
	for what, footer := range map[string][]byte{
		"an endless list":          {0x29, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0x07},                               // field 2, a list of 2^31-1 structures
		"a list of empty things":   append([]byte{0x29, 0xFC, 0xC0, 0x84, 0x3D}, make([]byte, 1_000_000)...), // a million structures of nothing
		"structures without end":   bytes.Repeat([]byte{0x1C}, 1000),
		"a text longer than all":   {0x18, 0xFF, 0xFF, 0xFF, 0xFF, 0x07},
		"nothing":                  {},
		"a number that breaks off": {0x15, 0x80},
	} {
		content := binary.LittleEndian.AppendUint32(append([]byte("PAR1"), footer...), uint32(len(footer)))
		content = append(content, "PAR1"...)
		if got := taken(func() {
			if _, whole := rowsIn(content); whole {
				t.Errorf("a file described by %s is read", what)
			}
		}); got > 64<<20 {
			t.Errorf("a file described by %s takes %d MB", what, got>>20)
		}
	}
}

// A Parquet file is refused, or it gives the same rows each time; whatever it holds, it
// takes no more memory than its bound.
func FuzzParquet(f *testing.F) {
	for _, codec := range []compress.Codec{&parquet.Uncompressed, &parquet.Snappy, &parquet.Gzip, &parquet.Zstd, &parquet.Lz4Raw} {
		f.Add(packedBy(f, codec))
		f.Add(packedBy(f, codec, parquet.DataPageVersion(1)))
	}
	var own bytes.Buffer
	if err := WriteTable(&own, "parquet", "fish", &record.Book{Fish: []record.Fish{{Fish: "EB-1", Species: "BFT"}}, ExtraColumns: map[string][]string{}}, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(own.Bytes())
	f.Fuzz(func(t *testing.T, content []byte) {
		if len(content) > 1<<20 {
			return
		}
		first, whole := rowsIn(content)
		second, again := rowsIn(content)
		if whole != again || !slices.EqualFunc(first, second, slices.Equal) {
			t.Fatalf("%d bytes gave %d rows, then %d", len(content), len(first), len(second))
		}
		in, err := OpenFS(fstest.MapFS{"programme.json": {Data: []byte(`{"name": "Quarrow Banks", "species": ["BFT"]}`)}, "fish.parquet": {Data: content}})
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		if _, err := in.Book(); err != nil {
			t.Fatalf("reading bytes from memory: %v", err)
		}
		if len(first) == 0 && in.Findings().Of(finding.Error) == 0 {
			t.Fatal("a file was refused, and nothing says so")
		}
	})
}

package tables

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"earstone/programme/finding"
)

// crafted is a workbook of one sheet and shared texts with the XML given; a sheet is its
// rows alone.
func crafted(t testing.TB, rows, shared string) []byte {
	t.Helper()
	const space = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	var out bytes.Buffer
	to := zip.NewWriter(&out)
	for _, part := range [][2]string{
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>`},
		{"_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook ` + space + ` xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="fish" sheetId="1" r:id="rId1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/></Relationships>`},
		{"xl/worksheets/sheet1.xml", `<worksheet ` + space + `><sheetData>` + rows + `</sheetData></worksheet>`},
		{"xl/sharedStrings.xml", `<sst ` + space + `>` + shared + `</sst>`},
	} {
		in, err := to.Create(part[0])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := in.Write([]byte(part[1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// numbered are n rows; each %[1]d in row is the number of the row.
func numbered(n int, row string) string {
	var b strings.Builder
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, row, i)
	}
	return b.String()
}

// taken is how many bytes are asked of the memory while f runs.
func taken(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// Workbooks that are small and would fill the memory are refused before they do. Found by
// an attack: 300,000 rows of one shared text, one cell a row in the last column, elements
// nested three million deep, in files of 200 kB to 3 MB.
func TestWorkbookBombsAreRefusedEarly(t *testing.T) {
	const most = 300 << 20 // bytes asked for in all, well above the 64 MB that are allowed
	bounds := Bounds{Rows: 2000, Columns: 60, Bytes: 64 << 20}
	for what, c := range map[string]struct{ rows, shared, want string }{
		"one shared text in all rows": {numbered(20_000, `<row r="%[1]d"><c r="A%[1]d" t="s"><v>0</v></c></row>`), `<si><t>` + strings.Repeat("x", 60_000) + `</t></si>`, "held"},
		"the last column":             {numbered(20_000, `<row r="%[1]d"><c r="XFD%[1]d"><v>1</v></c></row>`), "", "columns"},
		"deep elements":               {strings.Repeat("<a>", 1_000_000) + strings.Repeat("</a>", 1_000_000), "", "crowded"},
		"a row of endless cells":      {`<row r="1">` + strings.Repeat(`<c r="A1"><v>1</v></c>`, 200_000) + `</row>`, "", "crowded"},
		"an element of attributes":    {`<row r="1" ` + strings.Repeat(` a=""`, 1_000_000) + `/>`, "", "crowded"},
		"an endless shared text":      {`<row r="1"><c r="A1" t="s"><v>0</v></c></row>`, `<si>` + strings.Repeat("<t>"+strings.Repeat("x", 1000)+"</t>", 1000) + `</si>`, "crowded"},
		"too many rows":               {numbered(3000, `<row r="%[1]d"><c r="A%[1]d"><v>1</v></c></row>`), "", "rows"},
	} {
		t.Run(what, func(t *testing.T) {
			content := crafted(t, c.rows, c.shared)
			var got [][]string
			var found *finding.List
			var err error
			bytes := taken(func() { got, found, err = Grid(t.Context(), "sent.xlsx", content, bounds) })
			if err != nil || got != nil || found.Of(finding.Error) == 0 || found.All()[0].Kind != finding.TooLarge || found.All()[0].Facts[0] != c.want {
				t.Errorf("%s is cut into %d rows with %v (%v), want it refused as %q", what, len(got), found.All(), err, c.want)
			}
			if bytes > most {
				t.Errorf("%s took %d MB, want at most %d", what, bytes>>20, most>>20)
			}
		})
	}
}

// The same workbooks are refused by import and check, which know other bounds.
func TestWorkbookBombsAreNotImported(t *testing.T) {
	for what, c := range map[string]struct{ rows, want string }{
		"the last column": {numbered(2000, `<row r="%[1]d"><c r="XFD%[1]d"><v>1</v></c></row>`), `too_large season.xlsx#fish:0: "" ["columns" "500"]`},
		"deep elements":   {strings.Repeat("<a>", 100_000) + strings.Repeat("</a>", 100_000), `too_large season.xlsx:0: "" ["crowded" "64"]`},
	} {
		t.Run(what, func(t *testing.T) {
			tables := opened(t, map[string]string{"season.xlsx": string(crafted(t, c.rows, ""))})
			book(t, tables)
			if got := told(tables.Findings()); len(got) == 0 || got[0] != c.want {
				t.Errorf("%s is told as %q, want %q first", what, got, c.want)
			}
		})
	}
}

func TestGridEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if got, _, err := Grid(ctx, "pasted.csv", []byte("fish,length\nEB-1,204\n"), roomy); got != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("a table that nobody waits for is cut into %q with %v, want nothing and %v", got, err, context.Canceled)
	}
}

package tables

import (
	"archive/zip"
	"bytes"
	"io"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"earstone/programme/finding"
)

// A sheet whose XML breaks off, or holds what XML can't, loses its later rows: none of it
// may be believed.
func TestDamagedSheetsAreRefused(t *testing.T) {
	w := excelize.NewFile()
	defer w.Close()
	for row := 1; row <= 30; row++ {
		if err := w.SetCellInt("Sheet1", "A"+strconv.Itoa(row), int64(row)); err != nil {
			t.Fatal(err)
		}
	}
	var whole bytes.Buffer
	if err := w.Write(&whole); err != nil {
		t.Fatal(err)
	}
	const twelfth = `<row r="12">`
	for what, damage := range map[string]func(string) string{
		"untouched":           func(xml string) string { return xml },
		"cut after a row":     func(xml string) string { return xml[:strings.Index(xml, twelfth)] },
		"without its end":     func(xml string) string { return strings.Replace(xml, "</sheetData>", "", 1) },
		"with a control sign": func(xml string) string { return strings.Replace(xml, twelfth, "\x01"+twelfth, 1) },
		"with an entity":      func(xml string) string { return strings.Replace(xml, twelfth, "&what;"+twelfth, 1) },
	} {
		found := &finding.List{}
		file := openWorkbook(newPage("season.xlsx", found, nil), rezipped(t, whole.Bytes(), damage), maxUnpacked)
		if sound := what == "untouched"; (file != nil) != sound || (found.Of(finding.Error) > 0) == sound {
			t.Errorf("a sheet %s is opened %v with %+v", what, file != nil, found.All())
		}
		if file != nil {
			file.Close()
		}
	}
}

// rezipped is a workbook whose first sheet went through damage.
func rezipped(t *testing.T, workbook []byte, damage func(string) string) []byte {
	t.Helper()
	parts, err := zip.NewReader(bytes.NewReader(workbook), int64(len(workbook)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	to := zip.NewWriter(&out)
	for _, part := range parts.File {
		in, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(part.Name, "sheet1.xml") {
			content = []byte(damage(string(content)))
		}
		copied, err := to.Create(part.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := copied.Write(content); err != nil {
			t.Fatal(err)
		}
	}
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

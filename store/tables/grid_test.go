package tables

import (
	"bytes"
	"slices"
	"testing"

	"github.com/xuri/excelize/v2"
)

// roomy are bounds that no test but those of bounds comes near.
var roomy = Bounds{Rows: 1000, Columns: 100, Bytes: 16 << 20}

func TestGridCutsWhatIsPasted(t *testing.T) {
	want := [][]string{{"fish", "length", "remark"}, {"QB-00001-T", "214", "head, torn"}, {"QB-00002-P", "2l4", ""}}
	for separator, text := range map[string]string{
		"commas":     "fish,length,remark\nQB-00001-T,214,\"head, torn\"\n\nQB-00002-P,2l4,\n",
		"semicolons": "fish;length;remark\r\nQB-00001-T;214;head, torn\r\nQB-00002-P; 2l4 ;\r\n",
		"tabs":       "fish\tlength\tremark\nQB-00001-T\t214\thead, torn\nQB-00002-P\t2l4\t\n",
	} {
		got, found, err := Grid(t.Context(), "pasted.csv", []byte(text), roomy)
		if err != nil || !slices.EqualFunc(got, want, slices.Equal) {
			t.Errorf("text parted by %s is cut into %q, want %q", separator, got, want)
		}
		if found.Of(2) > 0 {
			t.Errorf("text parted by %s holds errors: %v", separator, found.All())
		}
	}
}

func TestGridCutsTheFirstSheet(t *testing.T) {
	f := excelize.NewFile()
	for cell, value := range map[string]any{"A1": "fish", "B1": "caught_on", "C1": "length", "A2": "QB-00001-T", "B2": 48014, "C2": 214.5} {
		if err := f.SetCellValue("Sheet1", cell, value); err != nil {
			t.Fatal(err)
		}
	}
	var content bytes.Buffer
	if err := f.Write(&content); err != nil {
		t.Fatal(err)
	}
	got, _, err := Grid(t.Context(), "cards.xlsx", content.Bytes(), roomy)
	// 48014 is 15 June 2031 in the era that begins with 1900: 48014 − 25569 days after 1970-01-01 (by hand).
	want := [][]string{{"fish", "caught_on", "length"}, {"QB-00001-T", "2031-06-15", "214.5"}}
	if err != nil || !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("the first sheet is cut into %q, want %q", got, want)
	}
}

func TestGridRefusesWhatIsNoTable(t *testing.T) {
	for name, content := range map[string]string{"cards.xlsx": "PK no workbook", "cards.csv": "\xff\xfef\x00i\x00"} {
		if got, found, err := Grid(t.Context(), name, []byte(content), roomy); err != nil || got != nil || found.Of(2) == 0 {
			t.Errorf("%s of %q is cut into %q without an error", name, content, got)
		}
	}
}

package tables

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/fstest"

	"earstone/programme/record"
)

// hostile is a programme with what harms a spreadsheet or breaks a form.
func hostile(t *testing.T) (*record.Book, Counts) {
	t.Helper()
	in, err := OpenFS(fstest.MapFS{
		"programme.json": {Data: []byte(`{"name": "Quarrow Banks", "species": ["BFT"]}`)},
		"fish.csv":       {Data: []byte("fish,species,caught_on,length,length_unit,length_kind,remark,mine\nQB-1,BFT,2031-06-14,214.5,cm,curved_fork,\"=HYPERLINK(\"\"x\"\")\",\"a \"\"b\"\",\nc\"\nQB-2,BFT,2031-06,,,,,\n")},
		"trips.csv":      {Data: []byte("trip,landed_on\nT1,2031-06-14\n")},
		"lengths.csv":    {Data: []byte("trip,species,length,unit,kind,count\nT1,BFT,214,cm,curved_fork,2\n")},
	})
	if err != nil {
		t.Fatal(err)
	}
	book, err := in.Book()
	if err != nil {
		t.Fatal(err)
	}
	return book, in.Lengths
}

// objects reads a list of objects.
func objects(t *testing.T, text []byte) (all []map[string]any) {
	t.Helper()
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatalf("what is written as JSON is none (%v):\n%s", err, text)
	}
	return all
}

func TestTablesByThemselves(t *testing.T) {
	book, counts := hostile(t)
	for _, name := range Names() {
		for _, form := range Forms() {
			var to bytes.Buffer
			if err := WriteTable(&to, form, name, book, counts); err != nil || to.Len() == 0 {
				t.Errorf("%s as %s has %d bytes (%v)", name, form, to.Len(), err)
			}
			if form == "json" {
				objects(t, to.Bytes())
			}
		}
	}
	var csv, objectsText, lengthsText bytes.Buffer
	for form, to := range map[string]*bytes.Buffer{"csv": &csv, "json": &objectsText} {
		if err := WriteTable(to, form, "fish", book, counts); err != nil {
			t.Fatal(err)
		}
	}
	if !strings.Contains(csv.String(), `"'=HYPERLINK(""x"")"`) {
		t.Errorf("a formula stands in the CSV as it was:\n%s", csv.String())
	}
	fish := objects(t, objectsText.Bytes())
	if len(fish) != 2 || fish[0]["length"] != 214.5 || fish[0]["remark"] != `=HYPERLINK("x")` || fish[0]["mine"] != "a \"b\",\nc" || fish[1]["length"] != nil || fish[1]["caught_on"] != "2031-06" {
		t.Errorf("the fish are %v", fish)
	}
	if err := WriteTable(&lengthsText, "json", "lengths", book, counts); err != nil {
		t.Fatal(err)
	}
	if lengths := objects(t, lengthsText.Bytes()); len(lengths) != 1 || lengths[0]["count"] != 2.0 {
		t.Errorf("the length counts are %v", lengths)
	}
}

func TestNoTableOfThatName(t *testing.T) {
	book, counts := hostile(t)
	for _, ask := range [][2]string{{"csv", "nothing"}, {"json", ""}, {"xlsx", "fish"}, {"", "fish"}} {
		if err := WriteTable(io.Discard, ask[0], ask[1], book, counts); !errors.Is(err, ErrNoTable) {
			t.Errorf("the table %q as %q gives %v, want %v", ask[1], ask[0], err, ErrNoTable)
		}
	}
}

const catchTable = "species,year,area,age,plus,value,se,interval,run\nBFT,2031,'=Skell,12,true,1234.5,1e-7,share,abc\nBFT,2031,,3,false,,,,abc\n"

func TestResultsByThemselves(t *testing.T) {
	var objectsText, csv, columns bytes.Buffer
	for form, to := range map[string]*bytes.Buffer{"csv": &csv, "json": &objectsText, "parquet": &columns} {
		if err := WriteResult(to, form, "catch_at_age", strings.NewReader(catchTable)); err != nil {
			t.Fatal(err)
		}
	}
	if csv.String() != catchTable {
		t.Errorf("a result written as CSV again is\n%s", csv.String())
	}
	rows := objects(t, objectsText.Bytes())
	if rows[0]["year"] != 2031.0 || rows[0]["area"] != "=Skell" || rows[0]["age"] != 12.0 || rows[0]["se"] != 1e-7 || rows[1]["value"] != nil || rows[1]["area"] != nil {
		t.Errorf("the result is %v", rows)
	}
	c := &columnar{}
	if err := c.open(columns.Bytes()); err != nil {
		t.Fatalf("the Parquet of a result can't be read: %v", err)
	}
	defer c.close()
	var read []string
	for c.next() {
		cells, _, _ := c.at()
		read = append(read, string(bytes.Join(cells, []byte("|"))))
	}
	if len(read) != 3 || read[1] != "BFT|2031|=Skell|12|true|1234.5|1e-07|share|abc" {
		t.Errorf("the Parquet of a result holds %q", read)
	}
}

// TestNumbersBelowZeroStayNumbers: a minus opens a formula only when more than a number
// follows.
func TestNumbersBelowZeroStayNumbers(t *testing.T) {
	for text, want := range map[string]string{"-1": "-1", "-0.06999": "-0.06999", "-1e-07": "-1e-07", "-2+3": "'-2+3", "-A1": "'-A1", "--1": "'--1", "-": "'-", "-1\n": "'-1\n", "-1,5": "'-1,5", "+1": "'+1", "=-1": "'=-1", "'-1": "''-1", "-0x10": "'-0x10"} {
		got := guarded([]byte(text))
		if string(got) != want || string(unguarded(got)) != text {
			t.Errorf("%q is written as %q, want %q, and read back as %q", text, got, want, unguarded(got))
		}
	}
	var to bytes.Buffer
	runs := "run,material,tracer,offset\nA,B,d13C,'-0.07\nA,B,d18O,-0.07\n" // as an earlier version wrote it, and as this one does
	if err := WriteResult(&to, "json", "assay_runs", strings.NewReader(runs)); err != nil {
		t.Fatal(err)
	}
	if rows := objects(t, to.Bytes()); rows[0]["offset"] != -0.07 || rows[1]["offset"] != -0.07 {
		t.Errorf("an offset below zero is told as %v", rows)
	}
}

func TestEachResultGivesTheTextsBack(t *testing.T) {
	var areas []string
	err := EachResult(strings.NewReader(catchTable), func(columns, cells []string) error {
		areas = append(areas, columns[2]+" "+cells[2])
		return nil
	})
	if err != nil || len(areas) != 2 || areas[0] != "area =Skell" {
		t.Errorf("the areas are %q (%v)", areas, err)
	}
	if err := EachResult(strings.NewReader("a,b\n1\n"), func(_, _ []string) error { return nil }); err == nil {
		t.Error("a row that is too short is taken")
	}
	if err := EachResult(strings.NewReader(""), func(_, _ []string) error { return nil }); err == nil {
		t.Error("a result without columns is taken")
	}
}

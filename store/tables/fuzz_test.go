package tables

import (
	"bytes"
	"io/fs"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// readBytes reads a table from bytes as if they were its file.
func readBytes(t testing.TB, table holder, content []byte) (*record.Book, *finding.List) {
	t.Helper()
	book, found := &record.Book{ExtraColumns: map[string][]string{}}, &finding.List{}
	p := newPage(table.title()+".csv", found, map[string]string{})
	in := newScanner(bytes.NewReader(content))
	if !in.opening(p) {
		return book, found
	}
	if _, err := table.into(book, p, in); err != nil {
		t.Fatalf("reading bytes from memory: %v", err)
	}
	return book, found
}

func withoutRows(b *record.Book) *record.Book {
	for i := range b.Fish {
		b.Fish[i].Row = 0
	}
	for i := range b.Readings {
		b.Readings[i].Row = 0
	}
	for i := range b.Marks {
		b.Marks[i].Row = 0
	}
	return b
}

// What a table took without an error comes back the same when it is written.
func FuzzTable(f *testing.F) {
	for _, seed := range []string{
		"fish,species,caught_on,length,length_unit,length_kind,boat\nEB-1,BFT,2031-06,204.5,cm,curved_fork,Skell\n",
		"\xef\xbb\xbffish;species;caught_on;length;length_unit;length_kind\r\nEB-1;BFT;2031;204,5;cm;curved_fork\r\n",
		"fish,species,caught_on,length,length_unit,length_kind,remark\nEB-1,BFT,2031,2l4,cm,curved_fork,\"a \"\"b\"\",\nc\"\n",
		"fish,species,caught_on,length,length_unit,length_kind,remark\nEB-1,BFT,2031,,,,caf\xe9 \x81\nEB-2,BFT,2031,,,,\"open\nEB-3,BFT,2031,,,,",
		"reading,fish,reader,read_at,annuli\nR-1,EB-1,KL,2031-07-01T10:00,7\n,,,,\nR-2,EB-1,KL,,",
		"reading,order,kind,x_px,y_px,distance_um\nR-1,0,core,12.5,-3,0\nR-1,1,annulus,,,812.4\nR-1,2,edge,,,1e3\n",
		"reading;order;kind;distance_um\nR-1;-1;anulus;8,1\nR-1;;edge;\n",
		"\xff\xfef\x00i\x00s\x00h\x00", "", "\n", "\"", "fish,fish,fihs\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		for _, table := range []holder{fish, readings, marks} {
			got, found := readBytes(t, table, content)
			if found.Of(finding.Error) > 0 {
				continue
			}
			var out bytes.Buffer
			if err := table.write(NewWriter(&out), got); err != nil {
				t.Fatal(err)
			}
			again, found := readBytes(t, table, out.Bytes())
			if found.Of(finding.Error) > 0 {
				t.Fatalf("%q was taken, and what was written of it is refused: %v", content, told(found))
			}
			if diff := cmp.Diff(withoutRows(got), withoutRows(again), comparers); diff != "" {
				t.Fatalf("%q came back changed as %q:\n%s", content, out.Bytes(), diff)
			}
		}
	})
}

// Settings that were taken without an error come back the same when they are written.
func FuzzSettings(f *testing.F) {
	f.Add([]byte(`{"name": "Quarrow Banks", "species": ["BFT"], "calendars": {"BFT": {"birth_day": "06-01", "annulus_day": "12-01", "annulus_window_days": 30, "first_annulus_age": 0.5}}}`))
	f.Add([]byte(`{"name": "Q", "species": ["BFT"], "ladders": {"lengths": [["year"], []], "key": []}, "targets": [{"quantity": "catch_at_age", "ages": [4, 10], "want_cv": 0.15}], "agreed_age": {"rule": "expert", "expert": "KL"}}`))
	f.Add([]byte(`{"name": 5, "spceies": null, "plus_group": 1e99, "strata": ["gaer"]}`))
	f.Add([]byte("[[[[[[[[[[[[[[[[[[[[[[[["))
	f.Fuzz(func(t *testing.T, content []byte) {
		found := &finding.List{}
		got := readSettings(newPage("programme.json", found, nil), content)
		if found.Of(finding.Error) > 0 {
			return
		}
		text, err := SettingsJSON(got)
		if err != nil {
			t.Fatal(err)
		}
		again := readSettings(newPage("programme.json", found, nil), text)
		if found.Of(finding.Error) > 0 {
			t.Fatalf("%q was taken, and %q is refused: %v", content, text, told(found))
		}
		if diff := cmp.Diff(got, again, comparers); diff != "" {
			t.Fatalf("%q came back changed as %q:\n%s", content, text, diff)
		}
	})
}

// Whatever a package says, only paths inside the folder come out of it.
func FuzzPackage(f *testing.F) {
	f.Add([]byte(`{"resources": [{"name": "fish", "path": "data/fish.csv"}, {"name": "trips", "path": ["trips.csv"]}]}`))
	f.Add([]byte(`{"resources": [{"name": "fish", "path": "../fish.csv"}, {"name": "catch", "path": "C:\\catch.csv"}, {"name": "marks", "path": "https://example.org/marks.csv"}]}`))
	f.Add([]byte(`{"resources": [{"name": "fish", "path": ["a", "b"]}, {"name": "fish"}]}`))
	f.Fuzz(func(t *testing.T, content []byte) {
		found := &finding.List{}
		for _, r := range readPackage(newPage("datapackage.json", found, nil), content) {
			if !fs.ValidPath(r.path) || bytes.ContainsAny([]byte(r.path), `\:`) || !slices.Contains(Names(), r.name) {
				t.Fatalf("%q gave the resource %q at %q", content, r.name, r.path)
			}
		}
	})
}

// workbookOf is a workbook with one sheet of the cells.
func workbookOf(t testing.TB, sheet string, cells [][]any) []byte {
	t.Helper()
	w := excelize.NewFile()
	defer w.Close()
	if err := w.SetSheetName("Sheet1", sheet); err != nil {
		t.Fatal(err)
	}
	for i, row := range cells {
		at, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.SetSheetRow(sheet, at, &row); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := w.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A workbook is refused with a finding, or its sheets give the same rows each time.
func FuzzWorkbook(f *testing.F) {
	whole := workbookOf(f, "fish", [][]any{{"fish", "species", "caught_on", "length", "length_unit", "length_kind"}, {"EB-1", "BFT", 48001, 204.5, "cm", "curved_fork"}})
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte("PK\x05\x06" + string(make([]byte, 18))))
	f.Fuzz(func(t *testing.T, content []byte) {
		found := &finding.List{}
		file := openWorkbook(newPage("season.xlsx", found, nil), content, maxUnpacked)
		if file == nil {
			if found.Of(finding.Error) == 0 {
				t.Fatal("a workbook was refused, and nothing says so")
			}
			return
		}
		defer file.Close()
		for _, name := range file.GetSheetList() {
			if first, second := rowsOf(file, name), rowsOf(file, name); !slices.EqualFunc(first, second, slices.Equal) {
				t.Fatalf("sheet %q gave %q, then %q", name, first, second)
			}
		}
	})
}

func rowsOf(file *excelize.File, name string) (all [][]string) {
	s, ok := openSheet(file, name)
	if !ok {
		return nil
	}
	defer s.close()
	for s.next() && len(all) < 1000 {
		var row []string
		for _, cell := range s.cells {
			row = append(row, string(cell))
		}
		all = append(all, row)
	}
	return all
}

package tables

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/xuri/excelize/v2"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/rules"
)

// folder is a programme folder held in memory; programme.json is added when it lacks one.
func folder(files map[string]string) fstest.MapFS {
	held := fstest.MapFS{}
	for name, content := range files {
		held[name] = &fstest.MapFile{Data: []byte(content)}
	}
	if held["programme.json"] == nil {
		held["programme.json"] = &fstest.MapFile{Data: []byte(`{"name": "Quarrow Banks", "species": ["BFT"]}`)}
	}
	return held
}

func opened(t testing.TB, files map[string]string) *Tables {
	t.Helper()
	tables, err := OpenFS(folder(files))
	if err != nil {
		t.Fatalf("opening the tables: %v", err)
	}
	t.Cleanup(func() { tables.Close() })
	return tables
}

func book(t testing.TB, tables *Tables) *record.Book {
	t.Helper()
	book, err := tables.Book()
	if err != nil {
		t.Fatalf("reading the book: %v", err)
	}
	return book
}

// told is each finding as one line.
func told(found *finding.List) (lines []string) {
	for _, f := range found.All() {
		lines = append(lines, fmt.Sprintf("%s %s:%d:%s %q %q", f.Kind, f.Place.File, f.Place.Row, f.Place.Column, f.Value, f.Facts))
	}
	return lines
}

func wantTold(t *testing.T, found *finding.List, want ...string) {
	t.Helper()
	got := told(found)
	for i := range max(len(got), len(want)) {
		switch {
		case i >= len(want):
			t.Errorf("found %s, want nothing more", got[i])
		case i >= len(got):
			t.Errorf("found nothing more, want %s", want[i])
		case got[i] != want[i]:
			t.Errorf("found %s, want %s", got[i], want[i])
		}
	}
}

func TestFishOfAPlainTable(t *testing.T) {
	tables := opened(t, map[string]string{"fish.csv": "fish,species,caught_on,length,length_unit,length_kind,boat\n" +
		"EB-1,BFT,2031-06,204.5,cm,curved_fork,Skell\n" +
		"EB-2,BFT,2031,2l4,cm,curved_fork,\"a \"\"b\"\", c\"\n"})
	got := book(t, tables)
	wantTold(t, tables.Findings(),
		`unknown_column fish.csv:1:boat "boat" [""]`,
		`not_number fish.csv:3:length "2l4" ["214"]`)
	if len(got.Fish) != 2 || got.Fish[0].Length.Value != record.Some(204.5) || got.Fish[1].Extra[0] != `a "b", c` {
		t.Errorf("fish = %+v", got.Fish)
	}
}

func TestLengthsAreHeldAgainstTrips(t *testing.T) {
	tables := opened(t, map[string]string{
		"trips.csv": "trip,landed_on\nT-01,2031-06-02\n",
		"lengths.csv": "trip,species,length,unit,kind,count\n" +
			"T-01,BFT,200,cm,straight_fork,3\nT-0l,BFT,200,cm,straight_fork,1\nT-01,BTF,210,cm,straight_fork,1\n"})
	n := 0.0
	if err := tables.Lengths(func(c *record.LengthCount) error { n += c.Count; return nil }); err != nil {
		t.Fatal(err)
	}
	wantTold(t, tables.Findings(),
		`unknown_id lengths.csv:3:trip "T-0l" ["trips.csv" "T-01"]`,
		`unknown_id lengths.csv:4:species "BTF" ["programme.json" "BFT"]`)
	if n != 3 {
		t.Errorf("counted %v fish in rows without error, want 3", n)
	}
}

func TestWorkbookIsAProgramme(t *testing.T) {
	w := excelize.NewFile()
	defer w.Close()
	fill := func(sheet string, rows ...[]any) {
		if _, err := w.NewSheet(sheet); err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			at, err := excelize.CoordinatesToCellName(1, i+1)
			if err != nil {
				t.Fatal(err)
			}
			if err := w.SetSheetRow(sheet, at, &rows[i]); err != nil {
				t.Fatal(err)
			}
		}
	}
	fill("programme", []any{"key", "value"}, []any{"name", "Quarrow Banks"}, []any{"species", `["BFT"]`}, []any{"plus_group", 15})
	fill("fish", []any{"fish", "species", "caught_on", "length", "length_unit", "length_kind", "remark"},
		[]any{"EB-1", "BFT", 48001, 204.5, "cm", "curved_fork"},
		[]any{},
		[]any{"EB-2", "BFT", 2031, "2l4", "cm", "curved_fork", "late"})
	fill("notes", []any{"nothing of ours"})
	path := filepath.Join(t.TempDir(), "season.xlsx")
	if err := w.SaveAs(path); err != nil {
		t.Fatal(err)
	}
	tables, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	got := book(t, tables)
	wantTold(t, tables.Findings(),
		`unknown_table season.xlsx#Sheet1:0: "sheet1" [""]`,
		`unknown_table season.xlsx#notes:0: "notes" [""]`,
		`assumed season.xlsx#fish:2:caught_on "" ["spreadsheet_dates"]`,
		`not_number season.xlsx#fish:4:length "2l4" ["214"]`)
	// 48001 days after 1899-12-30 is 2031-06-02: 25569 days to 1970-01-01, and 22432 more.
	if got.Settings.PlusGroup != 15 || len(got.Fish) != 2 || got.Fish[0].CaughtOn != date.On(2031, 6, 2) || got.Fish[1].CaughtOn.String() != "2031" {
		t.Errorf("read %+v with settings %+v", got.Fish, got.Settings)
	}
	in := tables.Inputs()
	if len(in) != 1 || in[0].Name != "season.xlsx" || in[0].Rows != 2 || len(in[0].SHA256) != 64 {
		t.Errorf("inputs = %+v, want the workbook with its 2 rows", in)
	}
}

// A row that claims to be the last of a sheet must not cost more than the rows before it.
func TestSheetOfOneFarRow(t *testing.T) {
	w := excelize.NewFile()
	defer w.Close()
	if err := w.SetCellValue("Sheet1", "A1048576", "far"); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := w.Write(&out); err != nil {
		t.Fatal(err)
	}
	file := openWorkbook(newPage("far.xlsx", &finding.List{}, nil), out.Bytes(), maxUnpacked)
	defer file.Close()
	if got := rowsOf(file, "Sheet1"); len(got) != 1 || got[0][0] != "far" {
		t.Errorf("the sheet gave %q", got)
	}
}

func TestHowAFileIsReadIsSaid(t *testing.T) {
	tables := opened(t, map[string]string{
		"fish.csv":  "\xef\xbb\xbffish;species;caught_on;length;length_unit;length_kind;remark\r\nEB-1;BFT;2031;204,5;cm;curved_fork;caf\xe9\r\nEB-2;BFT;2031;1.5;cm;curved_fork;\r\n",
		"trips.csv": "\xff\xfet\x00r\x00",
	})
	got := book(t, tables)
	wantTold(t, tables.Findings(),
		`not_readable trips.csv:0: "" ["utf_16"]`,
		`assumed fish.csv:1: "" ["byte_order_mark"]`,
		`assumed fish.csv:1: "" ["semicolons"]`,
		`assumed fish.csv:2:length "" ["decimal_commas"]`,
		`assumed fish.csv:2:remark "" ["windows_1252"]`,
		`mixed_decimals fish.csv:3:length "1.5" ["2"]`)
	if got.Fish[0].Length.Value != record.Some(204.5) || got.Fish[0].Remark != "café" {
		t.Errorf("fish = %+v", got.Fish[0])
	}
}

func TestEveryFaultOfTheSettingsIsTold(t *testing.T) {
	tables := opened(t, map[string]string{"programme.json": `{
  "name": "",
  "spceies": ["BFT"],
  "age_convention": "January",
  "calendars": {"BFT": {"birth_day": "31-02", "annulus_day": "12-01", "first_annulus_age": -1}},
  "length_bin": {"width": 0, "unit": "inch", "kind": "fork", "widht": 5},
  "strata": ["year", "year", "gaer"],
  "key": {"least_fish": 2.5, "ageing_error": 1},
  "agreed_age": {"rule": "expert"},
  "targets": [{"quantity": "catch_at_age", "ages": [10, 4]}]
}`})
	book(t, tables)
	wantTold(t, tables.Findings(),
		`needed programme.json:2:name "" []`,
		`unknown_setting programme.json:3:spceies "spceies" ["species"]`,
		`not_listed programme.json:4:age_convention "January" ["january" "birthday" "january"]`,
		`bad_setting programme.json:5:calendars.BFT.birth_day "31-02" ["month_and_day"]`,
		`out_of_range programme.json:5:calendars.BFT.first_annulus_age "-1" ["0" "100"]`,
		`needed programme.json:5:calendars.BFT.annulus_window_days "" []`,
		`out_of_range programme.json:6:length_bin.width "0" [">0" ""]`,
		`not_listed programme.json:6:length_bin.unit "inch" ["mm" "cm" "in" ""]`,
		`not_listed programme.json:6:length_bin.kind "fork" ["curved_fork" "straight_fork" "pectoral_to_fork" "first_dorsal" "total" "standard" "lower_jaw_fork" ""]`,
		`unknown_setting programme.json:6:length_bin.widht "widht" ["width"]`,
		`bad_setting programme.json:7:strata[1] "year" ["once"]`,
		`not_listed programme.json:7:strata[2] "gaer" ["year" "quarter" "month" "area" "gear" "gear"]`,
		`not_whole programme.json:8:key.least_fish "2.5" []`,
		`bad_setting programme.json:8:key.ageing_error "1" ["true_or_false"]`,
		`bad_setting programme.json:10:targets[0].ages "[...]" ["two_ages"]`,
		`needed programme.json:1:species "" []`,
		`needed programme.json:9:agreed_age.expert "" []`)
}

func TestSettingsThatWouldMisleadAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		`"strata": []`:                               `bad_setting programme.json:1:strata "[...]" ["with_year"]`,
		`"strata": ["gear"]`:                         `bad_setting programme.json:1:strata "[...]" ["with_year"]`,
		`"ladders": {"key": []}`:                     `bad_setting programme.json:1:ladders.key "[...]" ["one_set"]`,
		`"length_bin": {"width": 0.001}`:             `out_of_range programme.json:1:length_bin.width "0.001" ["0.1" "100"]`,
		`"length_bin": {"width": 1e300}`:             `out_of_range programme.json:1:length_bin.width "1e300" [">0" "10000000"]`,
		`"length_bin": {"width": 200}`:               `out_of_range programme.json:1:length_bin.width "200" ["0.1" "100"]`,
		`"length_bin": {"unit": "mm"}`:               ``,
		`"length_bin": {"unit": "mm", "width": 0.5}`: `out_of_range programme.json:1:length_bin.width "0.5" ["1" "1000"]`,
	} {
		tables := opened(t, map[string]string{"programme.json": `{"name": "Skell", "species": ["BFT"], ` + text + `}`})
		book(t, tables)
		var told []string
		if want != "" {
			told = []string{want}
		}
		wantTold(t, tables.Findings(), told...)
	}
}

// What a cell was meant to be is never proposed a thousand times too small.
func TestThousandsAreNotTakenForDecimals(t *testing.T) {
	tables := opened(t, map[string]string{"catch.csv": "year,species,number,weight_kg\n2031,BFT,\"14,800\",\"14,800\"\n2031,BFT,\"1,014,800\",\"1,014,800\"\n2031,BFT,\"10,5\",\"10,5\"\n\"2,031\",BFT,1e308,\n"})
	book(t, tables)
	wantTold(t, tables.Findings(),
		`not_number catch.csv:2:number "14,800" ["14800"]`, `not_number catch.csv:2:weight_kg "14,800" ["14800, or 14.8,"]`,
		`not_number catch.csv:3:number "1,014,800" ["1014800"]`, `not_number catch.csv:3:weight_kg "1,014,800" ["1014800"]`,
		`not_number catch.csv:4:number "10,5" ["10.5"]`, `not_number catch.csv:4:weight_kg "10,5" ["10.5"]`,
		`not_number catch.csv:5:year "2,031" ["2031"]`, `out_of_range catch.csv:5:number "1e308" ["0" "1000000000000"]`)
}

// A refused cell, table or file of settings is told once, and by nothing that only
// follows from it.
func TestRefusedCellsHaveNoEcho(t *testing.T) {
	tables := opened(t, map[string]string{
		"programme.json": `{"name": "Skell", "species": ["BFT"`,
		"catch.csv":      "year,species,number\n2031,BFT,-14800\n",
		"trips.csv":      "trip,landed on\nT1,2031-06-02\n",
		"fish.csv":       "fish,species,caught_on,trip,length,length_unit,length_kind\nS-1,BFT,2031-06-02,T1,,,\n",
		"readings.csv":   "reading,fish,reader,annuli,edge\n1,S-1,KL,3,W\n"})
	found := tables.Located(rules.Check(book(t, tables), date.Day{}))
	wantTold(t, found)
	if n := tables.Findings().Of(finding.Error); n != 4 {
		t.Errorf("%d errors are found, want 4: %+v", n, tables.Findings().All())
	}
}

func TestNothingOutsideTheFolderIsRead(t *testing.T) {
	outside, dir := t.TempDir(), t.TempDir()
	write := func(path, text string) {
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write(filepath.Join(outside, "fish.csv"), "fish,species,caught_on,length,length_unit,length_kind\nEB-1,BFT,2031,,,\n")
	write(filepath.Join(dir, "programme.json"), `{"name": "Quarrow Banks", "species": ["BFT"]}`)
	write(filepath.Join(dir, "datapackage.json"), `{"resources": [{"name": "trips", "path": "../trips.csv"}, {"name": "catch", "path": "data/catch.csv"}, {"name": "stones", "path": "away/fish.csv"}]}`)
	for link, to := range map[string]string{"fish.csv": filepath.Join(outside, "fish.csv"), "away": outside, "images.csv": "nowhere"} {
		if err := os.Symlink(to, filepath.Join(dir, link)); err != nil {
			t.Skipf("links can't be made here: %v", err)
		}
	}
	tables, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	if got := book(t, tables); len(got.Fish) > 0 {
		t.Errorf("%d fish were read through a link out of the folder", len(got.Fish))
	}
	wantTold(t, tables.Findings(),
		`bad_setting datapackage.json:0:resources[0].path "../trips.csv" ["path_inside"]`,
		`not_readable data/catch.csv:0: "" ["not_there"]`,
		`not_readable fish.csv:0: "" ["outside_the_folder"]`,
		`not_readable away/fish.csv:0: "" ["outside_the_folder"]`,
		`not_readable images.csv:0: "" ["dangling_link"]`)
}

func TestTablesThatAreNotThere(t *testing.T) {
	tables := opened(t, map[string]string{"trips.csv": "trip,landed_on\nT-01,2031-06-02\n", "lenghts.csv": "trip\n"})
	wantTold(t, tables.Findings(), `unknown_table lenghts.csv:0: "lenghts" ["lengths"]`)
	wantTold(t, tables.Missing("catch", "trips", "lengths"), `missing_table lengths.csv:0: "" ["catch"]`)
}

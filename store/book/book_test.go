package book

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

var noon = time.Date(2031, 9, 1, 12, 0, 0, 0, time.UTC)

// season is a small programme with a bit of everything that is awkward.
func season() map[string]string {
	return map[string]string{
		"programme.json": `{"name": "Quarrow Banks", "species": ["BFT"], "calendars": {"BFT": {"birth_day": "06-01", "annulus_day": "12-01", "annulus_window_days": 30, "first_annulus_age": 0.5}}}`,
		"areas.csv":      "area,name\nQuarrow,Quarrow Bank\nSkell,Skell Bank\n",
		"trips.csv":      "trip,landed_on,area,gear,landed_number,boat\n118,2031-06-02,Quarrow,troll,62,Merle\n119,2031-06,Skell,troll,,\n",
		"lengths.csv":    "trip,species,length,unit,kind,count\n118,BFT,214,cm,curved_fork,2\n119,BFT,181.5,cm,curved_fork,1\n118,BFT,220.0,cm,curved_fork,3\n",
		"catch.csv":      "year,quarter,area,gear,species,number\n2031,2,Quarrow,troll,BFT,800\n",
		"fish.csv": "fish,species,caught_on,trip,length,length_unit,length_kind,remark,note\n" +
			"QB-1,BFT,2031-06-02,118,214.50,cm,curved_fork,torn,first\nQB-2,BFT,2031-06-02,118,220,cm,curved_fork,'=1+1,\nQB-3,BFT,2031-06,119,181,cm,curved_fork,,\n",
		"readings.csv": "reading,fish,reader,read_at,annuli,edge\nR-1,QB-1,KL,2031-07-01,9,wide\nR-2,QB-2,KL,2031-07-01,,not_judged\n",
		"assays.csv":   "fish,side,tracer,value,unit,scale\nQB-1,L,d18O,-1.25,permil,VPDB\nQB-1,L,d18O,-1.31,permil,VPDB\n",
	}
}

func opened(t testing.TB, files map[string]string) *tables.Tables {
	t.Helper()
	folder := fstest.MapFS{}
	for name, text := range files {
		folder[name] = &fstest.MapFile{Data: []byte(text)}
	}
	in, err := tables.OpenFS(folder)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func empty(t testing.TB) *sqlite.Store {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "") // several a test
	if err != nil {
		t.Fatal(err)
	}
	if err := sqlite.Create(context.Background(), dir); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func plan(t testing.TB, s history.Store, files map[string]string) *Plan {
	t.Helper()
	p, err := Make(context.Background(), s, []*tables.Tables{opened(t, files)}, Job{Who: "ana", When: noon}, date.On(2031, 9, 1))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// take takes files in, which must hold no error.
func take(t testing.TB, s history.Store, files map[string]string) *Plan {
	t.Helper()
	p := plan(t, s, files)
	for _, f := range p.Found.All() {
		if f.Severity == finding.Error {
			t.Fatalf("an error that should not be there: %+v", f)
		}
	}
	if err := s.Append(context.Background(), p.Entries...); err != nil {
		t.Fatal(err)
	}
	return p
}

func read(t testing.TB, s history.Store) *Programme {
	t.Helper()
	p, err := Read(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	if p.Findings().Of(finding.Error) > 0 {
		t.Fatalf("reading finds %+v", p.Findings().All())
	}
	return p
}

var comparers = cmp.Options{
	cmp.Comparer(func(a, b date.Day) bool { return a == b }),
	cmp.Comparer(func(a, b date.Anniversary) bool { return a == b }),
}

func TestSourceReadsWhatTablesRead(t *testing.T) {
	s := empty(t)
	take(t, s, season())
	fromTables := opened(t, season())
	want, err := fromTables.Book()
	if err != nil {
		t.Fatal(err)
	}
	p := read(t, s)
	got, err := p.Book()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, comparers); diff != "" {
		t.Errorf("the programme reads otherwise than its tables (- tables, + programme):\n%s", diff)
	}
	var counts []string
	for range 2 { // twice: the second reading gives the same
		counts = nil
		if err := p.Lengths(func(c *record.LengthCount) error {
			counts = append(counts, fmt.Sprint(c.Row, " ", c.Trip, " ", c.Length.Value.X, " x", c.Count))
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	if want := []string{"2 118 214 x2", "3 118 220 x3", "4 119 181.5 x1"}; cmp.Diff(want, counts) != "" {
		t.Errorf("length counts come as %v, want %v", counts, want)
	}
	if id := p.Subject(history.Fish, 3); !id.Known() || p.Subject(history.Fish, 9).Known() || p.Subject(history.Fish, 1).Known() {
		t.Errorf("row 3 of fish.csv is record %s, and the header and row 9 none", id)
	}
}

func TestRawCellsStayBesideWhatTheyMean(t *testing.T) {
	s := empty(t)
	take(t, s, season())
	fish, err := s.Where(context.Background(), history.Query{Kind: history.Fish, Field: "fish", Value: "QB-1"})
	if err != nil || len(fish) != 1 {
		t.Fatalf("fish QB-1 is found %d times (%v)", len(fish), err)
	}
	e := fish[0].Heads[0]
	if e.Fields["length"] != "214.5" || e.Raw["length"] != "214.50" || e.Row != 2 || !e.Import.Known() || e.Raw["fish"] != "" {
		t.Errorf("the entry is %+v, want 214.5 beside the raw 214.50, row 2, with its import", e)
	}
	file, err := s.Where(context.Background(), history.Query{Kind: history.Imports, Field: "sha256", Value: "", Prefix: true})
	if err != nil || len(file) != 7 {
		t.Errorf("%d files are noted (%v), want 7", len(file), err)
	}
	counts, err := s.Where(context.Background(), history.Query{Kind: history.Lengths, Field: "trip", Value: "118"})
	if err != nil || len(counts) != 1 || counts[0].Heads[0].Raw["rows"] != "4:118\tBFT\t220.0\tcm\tcurved_fork\t3\n" {
		t.Errorf("the length counts of trip 118 are %+v (%v), want the raw row 4 beside them", counts, err)
	}
}

func TestSameFileTwiceChangesNothing(t *testing.T) {
	s := empty(t)
	take(t, s, season())
	again := plan(t, s, season())
	if len(again.Entries) > 0 || again.Found.Of(finding.Error) > 0 {
		t.Errorf("taking the same files again would write %d entries, findings %+v", len(again.Entries), again.Found.All())
	}
	// The same rows in other bytes: another order, another separator.
	other := season()
	other["fish.csv"] = "species;fish;caught_on;trip;length;length_unit;length_kind;remark;note\nBFT;QB-1;2031-06-02;118;214,5;cm;curved_fork;torn;first\n"
	delete(other, "programme.json")
	if p := plan(t, s, other); len(p.Entries) > 0 {
		t.Errorf("rows that say the same would write %+v", p.Entries[0])
	}
}

func TestFileCorrectsAndNeverUndoes(t *testing.T) {
	s := empty(t)
	take(t, s, season())
	next := season()
	next["fish.csv"] = strings.Replace(next["fish.csv"], "214.50", "241", 1)
	next["lengths.csv"] = "trip,species,length,unit,kind,count\n118,BFT,214,cm,curved_fork,5\n118,BFT,99,cm,curved_fork,1\n"
	p := take(t, s, map[string]string{"fish.csv": next["fish.csv"], "lengths.csv": next["lengths.csv"]})
	var said []string
	for _, c := range p.Changes {
		said = append(said, fmt.Sprintf("%s %d %d %d", c.File, c.New, c.Corrected, c.Same))
	}
	if want := []string{"fish.csv 0 1 2", "lengths.csv 1 1 0"}; cmp.Diff(want, said) != "" {
		t.Errorf("the plan says %v, want %v", said, want)
	}
	book, err := read(t, s).Book()
	if err != nil || book.Fish[0].Length.Value.X != 241 || len(book.Fish) != 3 {
		t.Errorf("after the correction the fish are %+v (%v)", book.Fish, err)
	}
	counts := map[float64]float64{}
	if err := read(t, s).Lengths(func(c *record.LengthCount) error {
		counts[c.Length.Value.X] += c.Count
		return nil
	}); err != nil || cmp.Diff(map[float64]float64{214: 5, 220: 3, 181.5: 1, 99: 1}, counts) != "" {
		t.Errorf("after the correction the counts are %v (%v)", counts, err)
	}
	old := season()
	old["fish.csv"] += "QB-4,BFT,2031-06-02,118,200,cm,curved_fork,,\n" // other bytes, so another file
	take(t, s, map[string]string{"fish.csv": old["fish.csv"]})
	if book, err = read(t, s).Book(); err != nil || book.Fish[0].Length.Value.X != 241 || len(book.Fish) != 4 {
		t.Errorf("an old file undid a correction: %+v (%v)", book.Fish, err)
	}
}

func TestProblemsStandBesideTheirCells(t *testing.T) {
	s := empty(t)
	take(t, s, season())
	p := plan(t, s, map[string]string{"fish.csv": "fish,species,caught_on,trip,length,length_unit,length_kind\n" +
		"QB-8,BFT,2031-06-02,118,2l4,cm,curved_fork\nQB-9,BFT,2031-06-02,999,214,cm,curved_fork\nQB-9,BFT,2031-06-02,118,214,cm,curved_fork\n",
		"lengths.csv": "trip,species,length,unit,kind,count\n118,BFT,214,cm,curved_fork,1\n404,BFT,214,cm,curved_fork,2\n"})
	var got []string
	for _, f := range p.Found.All() {
		if f.Severity == finding.Error {
			got = append(got, fmt.Sprintf("%s %d %s %s", f.Place.File, f.Place.Row, f.Place.Column, f.Kind))
		}
	}
	want := []string{"fish.csv 2 length not_number", "fish.csv 3 trip unknown_id", "fish.csv 4 fish twice_id", "lengths.csv 3 trip unknown_id"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("the errors stand otherwise (- wanted, + found):\n%s", diff)
	}
}

func TestConflictIsAnError(t *testing.T) {
	ctx := context.Background()
	s := empty(t)
	take(t, s, season())
	fish, err := s.Where(ctx, history.Query{Kind: history.Fish, Field: "fish", Value: "QB-1"})
	if err != nil {
		t.Fatal(err)
	}
	for _, length := range []string{"1", "2"} {
		e := &history.Entry{Kind: history.Fish, Subject: fish[0].Subject, Supersedes: []history.ID{fish[0].Heads[0].ID}, Who: "bo" + length, When: noon, Why: "apart",
			Fields: history.Fields{"fish": "QB-1", "species": "BFT", "length": length, "length_unit": "cm", "length_kind": "curved_fork"}}
		if err := e.Seal(); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Merge(ctx, e); err != nil {
			t.Fatal(err)
		}
	}
	p, err := Read(ctx, s)
	if err != nil {
		t.Fatal(err)
	}
	found := p.Findings().All()
	if len(found) != 1 || found[0].Severity != finding.Error || found[0].Kind != finding.Contradiction || found[0].Place != (finding.Place{File: "fish.csv", Row: 2, Column: "length"}) {
		t.Errorf("two heads of a fish are found as %+v, want an error at fish.csv, row 2, length", found)
	}
}

// written is a programme as plain CSV, file by file.
func written(t testing.TB, p *Programme) map[string]string {
	t.Helper()
	dir := t.TempDir()
	if err := tables.Folder(dir).WriteAs("csv", p.book, p.Lengths); err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		text, err := os.ReadFile(filepath.Join(dir, entry.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[entry.Name()] = string(text)
	}
	return files
}

// Whatever texts stand in a programme, each form gives it back bit for bit.
func TestEveryFormGivesTheSameProgrammeBack(t *testing.T) {
	for _, form := range []string{"csv", "xlsx", "parquet", "dwc"} {
		t.Run(form, func(t *testing.T) {
			checks := 0
			rapid.Check(t, func(r *rapid.T) {
				if checks++; checks > 12 { // each makes two files on the disk
					return
				}
				files := season()
				text := rapid.StringMatching(`[=+\-@'"a-zé;, 0-9\n]{0,12}`)
				quoted := func(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
				for i := range rapid.IntRange(0, 6).Draw(r, "more fish") {
					files["fish.csv"] += fmt.Sprintf("QB-1%d,BFT,2031-06-0%d,118,%v,cm,curved_fork,%s,%s\n", i, 1+i,
						rapid.Float64Range(1, 400).Draw(r, "length"), quoted(text.Draw(r, "remark")), quoted(text.Draw(r, "note")))
				}
				a := empty(t)
				take(t, a, files)
				out := t.TempDir()
				p := read(t, a)
				if err := tables.Folder(out).WriteAs(form, p.book, p.Lengths); err != nil {
					r.Fatal(err)
				}
				in, err := tables.OpenFiles([]string{out})
				if err != nil {
					r.Fatal(err)
				}
				defer in[0].Close()
				b := empty(t)
				made, err := Make(context.Background(), b, in, Job{Who: "ana", When: noon}, date.On(2031, 9, 1))
				if err != nil || made.Found.Of(finding.Error) > 0 {
					r.Fatalf("what was written is found faulty: %+v (%v)", made.Found.All(), err)
				}
				if err := b.Append(context.Background(), made.Entries...); err != nil {
					r.Fatal(err)
				}
				if diff := cmp.Diff(written(t, p), written(t, read(t, b))); diff != "" {
					r.Fatalf("the programme came back changed (- before, + after):\n%s", diff)
				}
			})
		})
	}
}

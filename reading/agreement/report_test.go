package agreement

import (
	"reflect"
	"slices"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
)

// book is a small one by hand: five fish of one species and one of another.
func book(t *testing.T) ([]record.Fish, []record.Reading) {
	t.Helper()
	day := func(text string) date.Day {
		d, ok := date.Parse(text)
		if !ok {
			t.Fatalf("%q is no date", text)
		}
		return d
	}
	fish := []record.Fish{
		{Fish: "Q1", Species: "BFT", CaughtOn: day("2031-06-15")},
		{Fish: "Q2", Species: "BFT", CaughtOn: day("2031-06")},
		{Fish: "Q3", Species: "BFT", CaughtOn: day("2031")},
		{Fish: "Q4", Species: "BFT", CaughtOn: day("2031-07-01")},
		{Fish: "Q5", Species: "BFT", CaughtOn: day("2031-07-01")},
		{Fish: "A1", Species: "ALB", CaughtOn: day("2031-07-01")},
	}
	read := func(id record.FishID, reader record.ReaderID, at string, annuli int, e record.Edge) record.Reading {
		return record.Reading{Fish: id, Reader: reader, ReadAt: day(at), Annuli: annuli, Edge: e}
	}
	control := func(r record.Reading) record.Reading { r.Control = record.Yes; return r }
	return fish, []record.Reading{
		read("Q1", "ada", "2032-01-10", 4, record.Wide),
		read("A1", "ada", "2032-01-10", 9, record.Wide),
		read("Q1", "ada", "2032-03-10", 5, record.Narrow), // her last, and two months later
		read("Q1", "ben", "2032-01-20", 5, record.NotJudged),
		read("Q2", "ada", "2032-01-10", 2, record.Partial),
		read("Q2", "ada", "2032-01-10", 3, record.Partial), // the same day: not twice
		read("Q2", "ben", "2032-01-20", 3, record.Wide),
		read("Q3", "ada", "2032", 7, record.Wide),
		read("Q3", "ada", "2032-06-01", 8, record.Wide), // perhaps the same day
		read("Q3", "ben", "2032-01-20", -1, record.EdgeUnknown),
		read("Q4", "ben", "2032-01-20", 999, record.Wide), // a slip of the pen
		read("Q5", "ben", "2032-01-20", 6, record.Wide),
		control(read("Q5", "ben", "2032-02-20", 7, record.Narrow)),
		read("gone", "ben", "2032-01-20", 6, record.Wide),
	}
}

func TestReportOfABook(t *testing.T) {
	fish, readings := book(t)
	panel := age.NewPanel([]record.ReaderID{"ada", "ben"}, readings)
	before := slices.Clone(readings)
	r := For("BFT", record.Calendar{}, panel, fish, readings)
	if len(r.Pairs) != 1 || r.Pairs[0].ReaderA != "ada" || r.Pairs[0].ReaderB != "ben" {
		t.Fatalf("the pairs are %+v, want Ada with Ben", r.Pairs)
	}
	// Q1: 5 and 5, Q2: 3 and 3; Q3 and Q5 by one reader each.
	if s := r.All; s.ReadTwice != 2 || s.Single != 2 || s.Exact != record.Some(100) {
		t.Errorf("all readings: %+v", s)
	}
	if p := r.Pairs[0]; p.ReadTwice != 2 || p.Table[5*p.Ages+5] != 1 || p.Table[3*p.Ages+3] != 1 || p.Ages != 6 {
		t.Errorf("Ada and Ben: %+v", p)
	}
	if len(r.Self) != 2 {
		t.Fatalf("against themselves are %d readers, want 2", len(r.Self))
	}
	if ada := r.Self[0]; ada.ReaderA != "ada" || ada.ReaderB != "ada" || ada.ReadTwice != 1 || ada.Difference.Mean != record.Some(1) {
		t.Errorf("Ada against herself: %+v", ada)
	}
	if ben := r.Self[1]; ben.ReadTwice != 1 || ben.Difference.Mean != record.Some(1) || ben.Table[6*ben.Ages+7] != 1 {
		t.Errorf("Ben against himself: %+v", ben)
	}
	if len(r.Drift) != 1 || r.Drift[0].Reader != "ben" || r.Drift[0].Controls != 1 {
		t.Errorf("drift: %+v, want one control of Ben", r.Drift)
	}
	// June: Q1 narrow (her last), Q2 wide (Ben read last). July: Q5 wide, its control
	// apart. Q3 has no month.
	var got [][3]int
	for _, e := range r.Edges {
		if e.N > 0 {
			got = append(got, [3]int{e.Month, int(e.Edge), e.Of})
		}
	}
	if want := [][3]int{{6, int(record.Narrow), 2}, {6, int(record.Wide), 2}, {7, int(record.Wide), 1}}; !slices.Equal(got, want) {
		t.Errorf("the edges are %v, want %v", got, want)
	}
	if r.Calendar.Given {
		t.Errorf("five fish give a warning: %+v", r.Calendar)
	}
	for i := range readings {
		if readings[i].Reading != before[i].Reading || readings[i].Annuli != before[i].Annuli {
			t.Fatalf("reading %d was changed", i)
		}
	}
}

func TestReportOfNothing(t *testing.T) {
	r := For("BFT", record.Calendar{}, age.NewPanel(nil, nil), nil, nil)
	if r.All != (Summary{}) || r.Pairs != nil || r.Self != nil || r.Edges != nil || r.Drift != nil || r.Calendar.Given {
		t.Errorf("a species without fish has %+v", r)
	}
}

func TestWrongShapesPanic(t *testing.T) {
	for name, call := range map[string]func(){
		"counts": func() { Of([]int{1, 2, 3}, 2) }, "no readers": func() { Of(nil, 0) },
		"table": func() { SymmetryOf([]int{1, 2, 3}, 2) }, "lengths": func() { Compare([]int{1}, nil) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s of a wrong shape are taken", name)
				}
			}()
			call()
		}()
	}
}

// TestReportLeavesSightedReadingsOut: who knows the other counts agrees with them, so that
// a reading that was not blind, or that readers made together, changes nothing.
func TestReportLeavesSightedReadingsOut(t *testing.T) {
	fish, readings := book(t)
	panel := age.NewPanel([]record.ReaderID{"ada", "ben", record.Joint}, readings)
	want := For("BFT", record.Calendar{}, panel, fish, readings)
	seen := slices.Clone(readings)
	for _, one := range readings {
		later, _ := date.Parse("2033-01-10")
		joint, again := one, one
		joint.Reader, joint.ReadAt = record.Joint, later // says nothing of blind
		again.Blind, again.ReadAt, again.Control = record.No, later, record.Yes
		again.Annuli++
		seen = append(seen, joint, again)
	}
	if got := For("BFT", record.Calendar{}, panel, fish, seen); !reflect.DeepEqual(got, want) {
		t.Errorf("With readings that were not blind the report is\n%+v, want that without:\n%+v.", got, want)
	}
}

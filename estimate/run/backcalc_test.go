package run_test

import (
	"math"
	"strings"
	"testing"

	"earstone/estimate/growth"
	"earstone/estimate/run"
	"earstone/programme/record"
)

// markedYears is twoYears with all stones marked: fish had 30 cm at the first annulus and
// 45 at the second, and S = 100 + 8 L µm.
func markedYears(t *testing.T) *written {
	t.Helper()
	w := twoYears(t, "direct", false)
	for i, r := range w.book.Readings {
		lengths := []float64{30, 45}[:r.Annuli]
		add := func(kind string, um float64) {
			w.book.Marks = append(w.book.Marks, record.Mark{Reading: r.Reading, Order: len(w.book.Marks), Kind: kind, DistanceUm: record.Some(um)})
		}
		add("core", 0)
		for _, l := range lengths {
			add("annulus", 100+8*l)
		}
		add("edge", 100+8*w.book.Fish[i].Length.Value.X)
	}
	return w
}

func TestLengthsAreCalculatedBack(t *testing.T) {
	b := estimated(t, markedYears(t), run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0].Back
	if b == nil || len(b.Fish) != 30 || b.Unlike+b.Lacking != 0 {
		t.Fatalf("30 marked fish are calculated back as %+v", b)
	}
	if r := b.Relation; math.Abs(r.RadiusIntercept-100) > 1e-9 || math.Abs(r.RadiusSlope-8) > 1e-9 {
		t.Errorf("radius on length is %v + %v L, want 100 + 8 L", r.RadiusIntercept, r.RadiusSlope)
	}
	for _, f := range b.Fish {
		for r, rule := range b.Rules {
			for j, want := range []float64{30, 45}[:len(f.RadiiUm)] {
				if rule == growth.DahlLea { // by hand: a share of the radius is one of the length
					want = f.Length * f.RadiiUm[j] / f.EdgeUm
				}
				if got := f.Lengths[r][j]; math.Abs(got-want) > 1e-9 {
					t.Errorf("%s: %v had %v cm at annulus %d, want %v", f.Fish.Fish, rule, got, j+1, want)
				}
			}
		}
	}
}

func TestMarksAreReadFromThePicture(t *testing.T) {
	w := markedYears(t)
	first := w.book.Readings[0].Reading
	w.book.Readings[0].Image = "I1"
	w.book.Images = []record.Image{{Image: "I1", UmPerPixel: record.Some(2)}}
	kept := w.book.Marks[:0]
	for _, m := range w.book.Marks {
		if m.Reading != first {
			kept = append(kept, m)
		}
	}
	// By hand: steps of 3-4-5 triangles: 50 px and then 25 px at 2 µm.
	for i, at := range [][2]float64{{10, 10}, {40, 50}, {55, 70}} {
		kept = append(kept, record.Mark{Reading: first, Order: i, Kind: []string{"core", "annulus", "edge"}[i], XPx: record.Some(at[0]), YPx: record.Some(at[1])})
	}
	w.book.Marks = kept
	b := estimated(t, w, run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0].Back
	for _, f := range b.Fish {
		if f.Reading == first && (math.Abs(f.RadiiUm[0]-100) > 1e-9 || math.Abs(f.EdgeUm-150) > 1e-9) {
			t.Errorf("the marks in the picture lie at %v and %v µm, want 100 and 150", f.RadiiUm, f.EdgeUm)
		}
	}
	w.book.Images[0].UmPerPixel = record.Number{}
	if b := estimated(t, w, run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0].Back; b.Lacking != 1 || len(b.Fish) != 29 {
		t.Errorf("a picture without a scale leaves %d fish and %d that lack something, want 29 and 1", len(b.Fish), b.Lacking)
	}
}

func TestMarksThatCantServe(t *testing.T) {
	if s := estimated(t, twoYears(t, "direct", false), run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0]; s.Back != nil || s.NoBack != run.ErrNoMarks {
		t.Errorf("no marks give %+v and %v", s.Back, s.NoBack)
	}
	w := markedYears(t)
	w.book.Marks[1].DistanceUm = record.Number{}       // the first fish's annulus
	w.book.Marks[len(w.book.Marks)-1].Kind = "annulus" // the last one's edge: another annulus
	w.book.Fish[1].Length = record.Length{}
	s := estimated(t, w, run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0]
	if s.Back.Lacking != 3 || len(s.Back.Fish) != 27 {
		t.Errorf("without a distance, an edge, a length %d fish are left and %d lack something, want 27 and 3 (%v)", len(s.Back.Fish), s.Back.Lacking, s.NoBack)
	}
	w = markedYears(t)
	w.book.Readings[4].Annuli++ // more than were marked
	if s := estimated(t, w, run.Options{Only: []run.Part{run.Growth}, Replicates: 40}).Species[0]; s.Back.Unlike != 1 || len(s.Back.Fish) != 29 {
		t.Errorf("one reading with an annulus more than its marks leaves %d fish, and %d are unlike, want 29 and 1", len(s.Back.Fish), s.Back.Unlike)
	}
}

func TestTablesOfLengthsAtAnnuli(t *testing.T) {
	o := estimated(t, markedYears(t), run.Options{Only: []run.Part{run.Growth}, Replicates: 40})
	rows := 0
	for _, table := range o.Tables() {
		if table.Name != "lengths_at_annuli" {
			continue
		}
		for _, e := range table.Estimate {
			if strings.Join(e.ID, " ") == "BFT fraser_lee 2 mean" {
				if rows++; math.Abs(e.Value.X-45) > 1e-6 || e.Stones != 15 {
					t.Errorf("by Fraser–Lee the mean at annulus 2 is %v of %d fish, want 45 of 15", e.Value, e.Stones)
				}
			}
		}
	}
	for _, p := range o.Plains() {
		if p.Name == "back_calculated" && len(p.Rows) != 45 {
			t.Errorf("back_calculated has %d rows, want 45: 15 fish with one annulus and 15 with two", len(p.Rows))
		}
	}
	if rows != 1 {
		t.Errorf("%d rows tell the mean at annulus 2 by Fraser–Lee", rows)
	}
}

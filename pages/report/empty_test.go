package report

import (
	"bytes"
	"context"
	"errors"
	"html/template"
	"io/fs"
	"reflect"
	"strings"
	"testing"

	"earstone/estimate/run"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/measure"
	"earstone/programme/record"
)

// ran is the outcome of a book and its lengths.
func ran(t *testing.T, alter func(*record.Book), lengths ...record.LengthCount) *run.Outcome {
	t.Helper()
	book := &record.Book{Settings: record.Defaults()}
	book.Settings.Name, book.Settings.Species = "Skell", []record.Species{"BFT"}
	birth, _ := date.ParseAnniversary("06-01")
	annulus, _ := date.ParseAnniversary("12-01")
	book.Settings.Calendars["BFT"] = record.Calendar{BirthDay: birth, AnnulusDay: annulus, AnnulusWindowDays: 30, FirstAnnulusAge: 0.5}
	alter(book)
	stream := func(each func(*record.LengthCount) error) error {
		for i := range lengths {
			if err := each(&lengths[i]); err != nil {
				return err
			}
		}
		return nil
	}
	o, err := run.Run(context.Background(), source{book, stream}, equations{measure.NewConverter(nil, nil)}, run.Options{Replicates: 40, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func cm(x float64) record.Length {
	return record.Length{Value: record.Some(x), Unit: "cm", Kind: record.StraightFork}
}

// oneFish is a trip with one fish that was aged.
func oneFish(book *record.Book) {
	day := date.On(2031, 8, 14)
	book.Trips = []record.Trip{{Trip: "T1", LandedOn: day, Area: "Skell", Gear: "line"}}
	book.Catches = []record.Catch{{Year: 2031, Quarter: 3, Area: "Skell", Gear: "line", Species: "BFT", Number: record.Some(1000)}}
	book.Fish = []record.Fish{{Fish: "QB-1", Species: "BFT", CaughtOn: day, Trip: "T1", Area: "Skell", Gear: "line", Length: cm(142)}}
	book.Readings = []record.Reading{{Reading: "1", Fish: "QB-1", Reader: "R1", Annuli: 4, Edge: record.Wide, ReadAt: date.On(2031, 9, 1)}}
}

func oneLength() record.LengthCount {
	return record.LengthCount{Trip: "T1", Species: "BFT", Length: cm(142), Count: 1}
}

func TestLittleIsSaidInWords(t *testing.T) {
	for _, c := range []struct {
		name string
		o    *run.Outcome
		want []string
	}{
		{"nothing at all", &run.Outcome{}, []string{"A programme without a name", "The programme names no species, so that nothing was estimated."}},
		{"a species that was never made", &run.Outcome{Species: []*run.Species{{Species: "BFT"}}}, []string{"There is no catch at age of BFT.", "Of this species nothing was caught, measured or aged in these records."}},
		{"a species without records", ran(t, func(*record.Book) {}), []string{"catch.csv tells no catch of it. Add a row for each year, quarter, area and gear, with the number of fish or their weight.", "fish.csv holds no fish of it."}},
		{"fish without lengths", ran(t, func(b *record.Book) { oneFish(b); b.Fish[0].Length = record.Length{} }),
			[]string{"Of 1 fish none has both an age and a length", "No fish of it was measured on a sampled trip."}},
		{"a key without a catch", ran(t, func(b *record.Book) { oneFish(b); b.Catches, b.Settings.Key.Form = nil, "direct" }, oneLength()), []string{"There is no catch at age of BFT. catch.csv tells no catch of it."}},
		{"one fish", ran(t, oneFish, oneLength()), []string{"Most fish of 2031 were age 4: 1 000 of 1 000 fish", "No fish was read twice, so that nothing tells how far readers agree.",
			"Cohorts can be followed once there is a second.", "The fish born in 2027 are the most in the catch: 100 % of all in this one year."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			said := plain(textOf(checkPage(t, write(t, c.o, About{}))))
			for _, want := range c.want {
				if !strings.Contains(said, want) {
					t.Errorf("the page does not say %q:\n%s", want, said)
				}
			}
		})
	}
}

// plain turns narrow spaces into plain ones.
func plain(text string) string { return strings.ReplaceAll(text, "\u202F", " ") }

func TestHostileNamesStayText(t *testing.T) {
	const evil = `"><script>alert('1')</script>&amp;`
	o := ran(t, func(b *record.Book) {
		oneFish(b)
		b.Settings.Name, b.Settings.Readers = evil, []record.ReaderID{evil}
		b.Trips[0].Area, b.Trips[0].Gear = evil, evil
		b.Catches[0].Area, b.Catches[0].Gear = evil, evil
		b.Fish[0].Area, b.Fish[0].Gear = evil, evil
		b.Readings[0].Reader = evil
		twice := b.Readings[0]
		twice.Reading, twice.Reader, twice.Annuli = "2", "</style>", 5
		b.Readings = append(b.Readings, twice)
		b.Settings.AgreedAge.Tie = "lower_reader"
	}, oneLength())
	o.Found.Add(finding.NoCatch, finding.Place{File: evil}, evil, "3", "line")
	root := checkPage(t, write(t, o, About{Engine: evil, Name: evil, Made: evil, Inputs: []Input{{File: evil, SHA256: evil}}}))
	if said := textOf(root); strings.Count(said, evil) < 8 {
		t.Errorf("the page shows the name %d times, want 8 or more:\n%s", strings.Count(said, evil), said)
	}
}

func TestStandInsAndTroublesAreTold(t *testing.T) {
	o := ran(t, func(b *record.Book) {
		oneFish(b)
		b.Settings.Key = record.KeySettings{Form: "smoothed", AgeingError: true, LeastFish: 5}
	}, oneLength())
	o.Species[0].NoErrors = errors.New("no stone was read twice")
	said := plain(textOf(checkPage(t, write(t, o, About{}))))
	for _, want := range []string{
		"A key of agreed ages, smoothed, stands in for one of true ages, smoothed. The errors of the readers could not be had: no stone was read twice.",
		"There is no estimate of the readers' error: no stone was read twice.",
		"One sampled trip alone stands for 1 stratum of 2031.",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q:\n%s", want, said)
		}
	}
}

// Every template runs on a view of zeros and on a full one, so that no name of a field is
// misspelt anywhere.
func TestTemplatesKnowTheirViews(t *testing.T) {
	o, about := smallOne(t)
	for name, view := range map[string]any{
		"page": tell(o, about), "chapter": chapter{Sections: []section{{}}}, "table": table{Head: text("a"), Rows: [][]string{{"1"}}, File: "f"},
		"section": section{Says: []string{"a"}, Notices: []notices{{Warn: true, Items: []notice{{More: "b"}}}}, Tables: []table{{}}},
		"set":     set{Heading: "a", Folded: "b", Abreast: true, Figures: []figure{{}}}, "figure": figure{Picture: template.HTML("<svg></svg>"), Table: &table{}},
	} {
		for _, v := range []any{view, reflect.Zero(reflect.TypeOf(view)).Interface()} {
			var b bytes.Buffer
			if name == "table" { // asked by pointer, as the page does
				of := v.(table)
				v = &of
			}
			if err := templates.ExecuteTemplate(&b, name, v); err != nil {
				t.Errorf("template %s: %v", name, err)
			}
		}
	}
	names, err := fs.Glob(files, "*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		content, err := files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if lines := strings.Count(string(content), "\n"); lines >= 120 {
			t.Errorf("template %s has %d lines, want under 120", name, lines)
		}
	}
}

package report

import (
	"context"
	"sync"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/measure"
	"earstone/programme/record"
	"earstone/programme/species"
	"earstone/programme/strata"
)

// equations gives a run the conversions of a programme and the published ones.
type equations struct{ of *measure.Converter }

func (e equations) Length(code record.Species, l record.Length, to record.LengthBin) (x, sd float64, ok bool) {
	c, err := e.of.Length(code, l, to.Kind, to.Unit)
	if err != nil {
		return 0, 0, false
	}
	return c.Mean(), c.SD.X, true
}

func (e equations) Weight(code record.Species, x float64, of record.LengthBin) (kg float64, ok bool) {
	length := record.Length{Value: record.Some(x), Unit: of.Unit, Kind: of.Kind}
	c, err := e.of.WeightAt(code, length, record.Round)
	if err != nil {
		return 0, false
	}
	return c.Mean(), true
}

// invented runs the whole job on an invented programme.
func invented(t testing.TB, settings fishery.Settings, replicates int, alter func(*record.Book), only ...run.Part) (*run.Outcome, About) {
	t.Helper()
	invention := fishery.Invent(settings, 1)
	book, err := invention.Book()
	if err != nil {
		t.Fatal(err)
	}
	if alter != nil {
		alter(book)
	}
	convert := equations{measure.NewConverter(book.Conversions, species.Conversions(book.Settings.Species))}
	o, err := run.Run(context.Background(), source{book, invention.Lengths}, convert, run.Options{Replicates: replicates, Seed: 1, Only: only})
	if err != nil {
		t.Fatal(err)
	}
	about := About{Engine: "0.1.0", Name: "4f1c0d9a27be", Made: "14 January 2033", Truth: Truth{}, Inputs: inputs, Areas: book.Areas}
	truth := invention.Truth()
	for _, code := range book.Settings.Species {
		about.Truth[code] = map[int][]float64{}
		for y := range settings.Years {
			year := settings.FirstYear + y
			about.Truth[code][year] = truth.Total(func(cell strata.Cell) bool { return int(cell.Year) == year })
		}
	}
	return o, about
}

// inputs are files with hashes as an outcome of real tables would have them.
var inputs = []Input{
	{File: "programme.json", SHA256: "0f343b0931126a20f133d67c2b018a3b5f6d2c9f0a1e7d4c8b3a29586f1e0d7c", Bytes: 812},
	{File: "trips.csv", SHA256: "c96c6d5be8d08a12e7b5cdc1b207fa6b2430974c86803d8891675e76fd992c20", Rows: 400, Bytes: 16_204},
	{File: "lengths.csv", SHA256: "9b74c9897bac770ffc029102a200c5de1a2b3c4d5e6f708192a3b4c5d6e7f809", Rows: 28_311, Bytes: 1_021_447},
	{File: "catch.csv", SHA256: "3e23e8160039594a33894f6564e1b1348bbd7a0088d42c4acb73eeaed59c009d", Rows: 72, Bytes: 2_904},
	{File: "fish.csv", SHA256: "2e7d2c03a9507ae265ecf5b5356885a53393a2029d241394997265a1a25aefc6", Rows: 5_000, Bytes: 530_112},
	{File: "readings.csv", SHA256: "18ac3e7343f016890c510e93f935261169d9e3f565436429830faf0934f4f8e4", Rows: 12_000, Bytes: 811_093},
}

type source struct {
	book    *record.Book
	lengths func(func(*record.LengthCount) error) error
}

func (s source) Book() (*record.Book, error)                        { return s.book, nil }
func (s source) Lengths(each func(*record.LengthCount) error) error { return s.lengths(each) }

// sized is an invented programme of a size that fishery knows.
func sized(t testing.TB, size string, replicates int) (*run.Outcome, About) {
	t.Helper()
	settings, err := fishery.Sized(size)
	if err != nil {
		t.Fatal(err)
	}
	return invented(t, settings, replicates, nil)
}

// made is an outcome that tests share; none may alter it.
type made struct {
	once    sync.Once
	outcome *run.Outcome
	about   About
}

func (m *made) of(make func() (*run.Outcome, About)) (*run.Outcome, About) {
	m.once.Do(func() { m.outcome, m.about = make() })
	return m.outcome, m.about
}

var small, season, thin made

func smallOne(t testing.TB) (*run.Outcome, About) {
	t.Helper()
	return small.of(func() (*run.Outcome, About) { return sized(t, "small", 100) })
}

func seasonOne(t testing.TB) (*run.Outcome, About) {
	t.Helper()
	return season.of(func() (*run.Outcome, About) { return sized(t, "season", 100) })
}

func thinOne(t testing.TB) (*run.Outcome, About) {
	t.Helper()
	return thin.of(func() (*run.Outcome, About) { return inventThin(t) })
}

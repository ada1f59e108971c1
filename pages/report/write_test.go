package report

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"earstone/estimate/run"
)

var keep = flag.String("keep", "", "write the pages of the invented programmes into this folder")

// write is the page of an outcome.
func write(t testing.TB, o *run.Outcome, about About) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, o, about); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPagesAreWellMadeAndSmall(t *testing.T) {
	for _, c := range []struct {
		name string
		of   func(testing.TB) (*run.Outcome, About)
		most int
	}{
		{"small", smallOne, 1 << 20},
		{"season", seasonOne, 2 << 20},
		{"thin", thinOne, 3 << 20},
		{"decade", decadeOne, 10 << 20},
	} {
		t.Run(c.name, func(t *testing.T) {
			o, about := c.of(t)
			page := write(t, o, about)
			if len(page) > c.most {
				t.Errorf("the page holds %d bytes, want %d at most", len(page), c.most)
			}
			checkPage(t, page)
			if *keep != "" {
				if err := os.WriteFile(filepath.Join(*keep, c.name+".html"), []byte(page), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

func TestHeadingsStandInOrder(t *testing.T) {
	o, about := seasonOne(t)
	got := strings.Join(contents(parse(t, write(t, o, about))), "\n")
	const want = `Quarrow Banks ear-stone programme
  BFT
    Catch at age
    Before you use these numbers
      Good to know
    Areas, gears and seasons
    What differs
    Growth
    Mortality
    Nursery of origin
    Catch at age by nursery
    Whose variance it is
    What the catch at age would lead to
    The age–length key
    Lengths, and the fish that were aged
    Would another key have done better?
    How sure: two standard errors
    Readers against each other
      R1 and R2
      R1 and R3
      R2 and R3
    Ageing error
    Edges through the year
    Cohorts through the years
    Stratum by stratum
  Methods in brief
    From stones to catch
    What the intervals mean
    Monte Carlo error
    The other standard error
    Scores of the keys
    Readers
  Cautions
  Settings`
	if got != want {
		t.Errorf("the headings are\n%s\nwant\n%s", got, want)
	}
}

func TestSameOutcomeGivesSamePage(t *testing.T) {
	o, about := smallOne(t)
	if first, again := write(t, o, about), write(t, o, about); first != again {
		t.Error("two pages of one outcome differ")
	}
}

var errFull = errors.New("the disk is full")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestErrorOfTheWriterComesBack(t *testing.T) {
	o, about := smallOne(t)
	if err := Write(full{}, o, about); !errors.Is(err, errFull) {
		t.Errorf("writing to a full disk gave %v", err)
	}
}

func BenchmarkWriteSeason(b *testing.B) {
	o, about := seasonOne(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(&bytes.Buffer{}, o, about); err != nil {
			b.Fatal(err)
		}
	}
}

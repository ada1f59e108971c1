package tables

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"earstone/programme/record"
)

// season writes a programme of plain files with many length counts, 10 columns each.
func season(t testing.TB, rows int) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, fill func(*bufio.Writer)) {
		file, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		to := bufio.NewWriter(file)
		fill(to)
		if err := to.Flush(); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
	}
	const perTrip = 50
	write("programme.json", func(to *bufio.Writer) { fmt.Fprint(to, `{"name": "Quarrow Banks", "species": ["BFT"]}`) })
	write("trips.csv", func(to *bufio.Writer) {
		fmt.Fprintln(to, "trip,landed_on,area,gear")
		for i := range rows/perTrip + 1 {
			fmt.Fprintf(to, "T-%06d,2031-06-%02d,Skell,rod\n", i, i%30+1)
		}
	})
	write("lengths.csv", func(to *bufio.Writer) {
		fmt.Fprintln(to, "trip,species,sex,length,unit,kind,resolution,count,sampler,tide")
		for i := range rows {
			fmt.Fprintf(to, "T-%06d,BFT,%s,%.1f,cm,curved_fork,0.5,%d,S%d,ebb\n", i/perTrip, [...]string{"F", "M", ""}[i%3], 90+float64(i%400)/2, 1+i%7, i%9)
		}
	})
	return dir
}

func opening(t testing.TB, dir string) *Tables {
	t.Helper()
	tables, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tables.Close() })
	if _, err := tables.Book(); err != nil {
		t.Fatal(err)
	}
	return tables
}

func BenchmarkLengths(b *testing.B) {
	const rows = 2_000_000
	tables := opening(b, season(b, rows))
	b.ReportAllocs()
	for b.Loop() {
		if err := tables.Lengths(func(*record.LengthCount) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
	if n := tables.Findings().Beyond() + len(tables.Findings().All()); n != 2 { // the two extra columns
		b.Fatalf("found %d problems, want the 2 extra columns only: %v", n, told(tables.Findings()))
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func TestLengthsAllocateNothingARow(t *testing.T) {
	const rows = 100_000
	tables := opening(t, season(t, rows))
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	n := 0
	if err := tables.Lengths(func(*record.LengthCount) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	// One for each of the 2,001 trip codes, and the tables to look them up in; none a row.
	if mallocs := after.Mallocs - before.Mallocs; n != rows || mallocs > rows/10 {
		t.Errorf("%d rows of %d cost %d allocations, want fewer than one in ten rows", n, rows, mallocs)
	}
	if bytes := after.TotalAlloc - before.TotalAlloc; bytes > 2<<20 {
		t.Errorf("%d rows cost %d bytes, want less than 2 MB", n, bytes)
	}
}

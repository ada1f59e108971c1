package tables

import (
	"testing"

	"earstone/programme/finding"
	"earstone/programme/record"
)

func TestParquetOfNothingReadsBack(t *testing.T) {
	settings := record.Defaults()
	settings.Name, settings.Species = "Quarrow Banks", []record.Species{"BFT"}
	dir := t.TempDir()
	if err := Folder(dir).WriteAs("parquet", &record.Book{Settings: settings, ExtraColumns: map[string][]string{}}, nil); err != nil {
		t.Fatal(err)
	}
	in, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	book, err := in.Book()
	if err != nil {
		t.Fatal(err)
	}
	if err := in.Lengths(func(*record.LengthCount) error { t.Error("a count came out of nothing"); return nil }); err != nil {
		t.Fatal(err)
	}
	if in.Findings().Of(finding.Error) > 0 || book.Settings.Name != "Quarrow Banks" {
		t.Errorf("a programme without records reads back with %+v", in.Findings().All())
	}
}

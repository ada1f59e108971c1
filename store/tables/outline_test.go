package tables

import (
	"strings"
	"testing"

	"earstone/programme/finding"
)

// An area whose outline can't be drawn is kept whole, and told.
func TestOutlinesOfAreas(t *testing.T) {
	const good = `"{""type"":""Polygon"",""coordinates"":[[[-30,44],[-28,44],[-28,46],[-30,44]]]}"`
	content := "area,name,geometry\nQ,Quarrow," + good + "\nS,Skell,\nD,Dunmarrow,north of Skell\nH,Harrow," + strings.Replace(good, "-28,44", "-280,44", 1) + "\n"
	book, found := readBytes(t, areas, []byte(content))
	if len(book.Areas) != 4 || !strings.HasPrefix(book.Areas[0].Geometry, `{"type":"Polygon"`) || book.Areas[2].Geometry != "north of Skell" {
		t.Errorf("the areas are read as %+v, want all four as they stand", book.Areas)
	}
	var told []string
	for _, f := range found.All() {
		if f.Kind != finding.NotThisThing || f.Severity != finding.Warning || f.Place.Column != "geometry" {
			t.Errorf("an outline gives the finding %+v, want a warning of the column geometry", f)
		}
		told = append(told, f.Facts[0])
	}
	if len(told) != 2 || told[0] != "geojson" || told[1] != "on_earth" {
		t.Errorf("the outlines give %v, want geojson for row 4 and on_earth for row 5", told)
	}
	if row := found.All()[1].Place.Row; row != 5 {
		t.Errorf("the second outline stands in row %d, want 5", row)
	}
}

// Whatever stands in a cell of an outline comes back as it was.
func FuzzOutlineCell(f *testing.F) {
	for _, seed := range []string{"area,geometry\nQ,\"{\"\"type\"\":\"\"Polygon\"\"}\"\n", "area,geometry\nQ,\xff\xfe{\n", "area,geometry\nQ," + strings.Repeat("é", 300)} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		got, found := readBytes(t, areas, content)
		if found.Of(finding.Error) > 0 {
			return
		}
		var out strings.Builder
		if err := areas.write(NewWriter(&out), got); err != nil {
			t.Fatal(err)
		}
		again, _ := readBytes(t, areas, []byte(out.String()))
		if len(again.Areas) != len(got.Areas) {
			t.Fatalf("%d areas came back as %d", len(got.Areas), len(again.Areas))
		}
		for i := range got.Areas {
			if again.Areas[i].Geometry != got.Areas[i].Geometry {
				t.Fatalf("the outline %q came back as %q", got.Areas[i].Geometry, again.Areas[i].Geometry)
			}
		}
		for _, one := range found.All() {
			if len([]rune(one.Value)) > longestShown && one.Kind == finding.NotThisThing {
				t.Fatalf("a finding carries %d signs of an outline", len(one.Value))
			}
		}
	})
}

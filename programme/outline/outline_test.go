package outline

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
)

const square = `{"type":"Polygon","coordinates":[[[-30,44],[-28,44],[-28,46],[-30,46],[-30,44]]]}`

func TestOutlinesAreRead(t *testing.T) {
	ring := Ring{-30, 44, -28, 44, -28, 46, -30, 46}
	const hole = `[[-29.5,44.5],[-29,44.5],[-29,45],[-29.5,44.5]]`
	for name, c := range map[string]struct {
		text string
		want []Ring
	}{
		"a polygon":                 {square, []Ring{ring}},
		"a feature":                 {`{"type":"Feature","properties":{"a":null},"geometry":` + square + `}`, []Ring{ring}},
		"a feature without a place": {`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null},{"type":"Feature","geometry":` + square + `}]}`, []Ring{ring}},
		"a collection with a point": {`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},` + square + `]}`, []Ring{ring}},
		"a hole":                    {strings.Replace(square, "[-30,44]]]}", "[-30,44]],"+hole+"]}", 1), []Ring{ring}},
		"two parts, heights":        {`{"type":"MultiPolygon","coordinates":[[[[0,0,5],[1,0,5],[0,1,5],[0,0,5]]],[[[179,0],[180,0],[-179,1],[179,0]]]]}`, []Ring{{0, 0, 1, 0, 0, 1}, {179, 0, 180, 0, -179, 1}}},
	} {
		got, err := Read(c.text)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s is read as %v (%v), want %v", name, got, err, c.want)
		}
	}
}

func TestWhatIsNoOutline(t *testing.T) {
	long := strings.Repeat("[0,0],", MostPositions+1)
	for _, c := range []struct {
		what, text string
		want       Reason
	}{
		{"nothing", "", NotGeoJSON},
		{"a name", "Quarrow", NotGeoJSON},
		{"another type", `{"type":"Circle"}`, NotGeoJSON},
		{"no coordinates", `{"type":"Polygon"}`, NotGeoJSON},
		{"a position of one number", `{"type":"Polygon","coordinates":[[[1],[1],[1],[1]]]}`, NotGeoJSON},
		{"a missing number", `{"type":"Polygon","coordinates":[[[0,0],[1,null],[0,1],[0,0]]]}`, NotGeoJSON},
		{"two texts", square + square, NotGeoJSON},
		{"a line", `{"type":"LineString","coordinates":[[0,0],[1,1]]}`, NoSurface},
		{"no parts", `{"type":"MultiPolygon","coordinates":[]}`, NoSurface},
		{"metres", strings.Replace(square, "-30,44", "-300000,4400000", 2), OffEarth},
		{"latitude first", `{"type":"Polygon","coordinates":[[[44,-130],[46,-130],[46,-128],[44,-130]]]}`, OffEarth},
		{"an open ring", strings.Replace(square, ",[-30,44]]]", "]]", 1), NotClosed},
		{"two corners", `{"type":"Polygon","coordinates":[[[0,0],[1,1],[0,0]]]}`, NotClosed},
		{"an empty ring", `{"type":"Polygon","coordinates":[[]]}`, NotClosed},
		{"too many corners", `{"type":"Polygon","coordinates":[[` + long + `[0,0]]]}`, TooLarge},
		{"too much text", strings.Repeat(" ", MostBytes+1), TooLarge},
		{"a deep collection", strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 20) + square + strings.Repeat("]}", 20), NotGeoJSON},
		{"a deep feature", strings.Repeat(`{"type":"Feature","geometry":`, 20) + square + strings.Repeat("}", 20), NoSurface},
	} {
		_, err := Read(c.text)
		if !errors.Is(err, c.want) {
			t.Errorf("%s is refused as %v, want %v", c.what, err, c.want)
		}
	}
}

func TestReasonsHaveWords(t *testing.T) {
	for r := NotGeoJSON; r <= NotClosed; r++ {
		if r.String() == "" || r.Error() == "" {
			t.Errorf("reason %d has no words", r)
		}
	}
}

// What is taken is an outline that can be drawn.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{square, "", "{}", `{"type":"Feature","geometry":` + square + `}`, `{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[0,1],[0,0]]]]}`, `{"type":"Polygon","coordinates":[[[1e400,0]]]}`} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rings, err := Read(text)
		var reason Reason
		if err != nil && (!errors.As(err, &reason) || reason < NotGeoJSON || reason > NotClosed) {
			t.Fatalf("refused without a reason: %v", err)
		}
		if err == nil && len(rings) == 0 {
			t.Fatal("taken without a ring")
		}
		for _, ring := range rings {
			if len(ring) < 6 || len(ring)%2 != 0 {
				t.Fatalf("a ring of %d numbers", len(ring))
			}
			for i := 0; i < len(ring); i += 2 {
				if !(ring[i] >= -180 && ring[i] <= 180 && ring[i+1] >= -90 && ring[i+1] <= 90) {
					t.Fatalf("a corner at %v, %v", ring[i], ring[i+1])
				}
			}
		}
	})
}

func ExampleRead() {
	rings, err := Read(`{"type": "Polygon", "coordinates": [[[-31, 46], [-29, 46], [-30, 47], [-31, 46]]]}`)
	fmt.Println(rings, err)
	_, err = Read(`{"type": "Point", "coordinates": [-31, 46]}`)
	fmt.Println(err)
	// Output:
	// [[-31 46 -29 46 -30 47]] <nil>
	// no surface
}

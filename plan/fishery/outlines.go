package fishery

import (
	"math"
	"strconv"
	"strings"
)

// outlineOf is a coarse outline of bank i of n in GeoJSON: rounded patches side by side
// on an invented piece of ocean, no two alike.
func outlineOf(i, n int) string {
	const corners, across = 10, 3
	column, row := i%across, i/across
	lon := -31 + 3.4*float64(column) + 0.8*float64(row%2)
	lat := 46.2 - 2.1*float64(row) + 0.5*float64(column%2)
	wide, high := 1.35-0.12*float64(i%4), 0.75-0.06*float64(i%3)
	var b strings.Builder
	b.WriteString(`{"type":"Polygon","coordinates":[[`)
	for k := range corners + 1 {
		a := 2 * math.Pi * float64(k%corners) / corners
		r := 1 + 0.16*math.Sin(3*a+float64(i)) + 0.1*math.Cos(2*a-float64(n))
		if k > 0 {
			b.WriteByte(',')
		}
		b.WriteString("[" + coarse(lon+wide*r*math.Cos(a)) + "," + coarse(lat+high*r*math.Sin(a)) + "]")
	}
	return b.String() + "]]}"
}

// coarse is a coordinate to a tenth of a degree: areas are coarse by intent.
func coarse(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

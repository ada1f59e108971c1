package paper

import (
	"strconv"
	"strings"
)

// points is the path of a closed polygon, or of a line when it has two points.
func points(xy ...float64) string {
	var b strings.Builder
	for i := 0; i < len(xy); i += 2 {
		b.WriteString([...]string{"M ", "L "}[min(i, 1)] + number(xy[i]) + " " + number(xy[i+1]) + " ")
	}
	if len(xy) > 4 {
		b.WriteString("Z")
	}
	return b.String()
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// each is a path with every point changed.
func each(path string, change func(x, y float64) (float64, float64)) string {
	words := strings.Fields(path)
	for i := 0; i < len(words); i++ {
		x, errX := strconv.ParseFloat(words[i], 64)
		if errX != nil {
			continue // a command
		}
		y, errY := strconv.ParseFloat(words[i+1], 64)
		if errY != nil {
			panic("paper: no path: " + path)
		}
		x, y = change(x, y)
		words[i], words[i+1] = number(x), number(y)
		i++
	}
	return strings.Join(words, " ")
}

// shape is a path moved by dx and dy.
func shape(dx, dy float64, path string) string {
	return each(path, func(x, y float64) (float64, float64) { return x + dx, y + dy })
}

// mirrored is a path with up and down changed when side is −1.
func mirrored(path string, side float64) string {
	return each(path, func(x, y float64) (float64, float64) { return x, y * side })
}

// mirrored90 is a path with left and right changed when side is 1.
func mirrored90(path string, side float64) string {
	return each(path, func(x, y float64) (float64, float64) { return -x * side, y })
}

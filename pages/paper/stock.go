package paper

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Stock is a sheet of labels by its measures in mm.
type Stock struct {
	Name          string // 38x21-a4: width, height, sheet
	Sheet         Size
	Columns, Rows int
	Left, Top     float64 // from the edge of the sheet to the first label
	Across, Down  float64 // from one label to the next
	Width, Height float64 // of a label
	Corner        float64
	Cut           bool // plain paper: lines to cut along
}

// Count is the number of labels on a sheet.
func (s Stock) Count() int { return s.Columns * s.Rows }

// Place is the upper left corner of the i-th label of a sheet, row by row.
func (s Stock) Place(i int) (x, y float64) {
	return s.Left + float64(i%s.Columns)*s.Across, s.Top + float64(i/s.Columns)*s.Down
}

// Title says what the stock is: 38 × 21 mm, 65 a sheet, A4.
func (s Stock) Title() string {
	sheet := "A4"
	switch s.Sheet {
	case Letter:
		sheet = "letter"
	case A4:
	default:
		sheet = fmt.Sprintf("%g × %g mm", s.Sheet.Width, s.Sheet.Height)
	}
	if s.Cut {
		sheet = "plain " + sheet + ", lines to cut along"
	}
	return fmt.Sprintf("%.0f × %.0f mm, %d a sheet, %s", s.Width, s.Height, s.Count(), sheet)
}

// Stocks are the label sheets that are known by name. The measures are those of common
// sheets (common practice, no source): a sheet at hand is measured with a ruler first.
func Stocks() []Stock {
	const inch = 25.4
	return []Stock{
		{"38x21-a4", A4, 5, 13, 4.75, 10.7, 40.6, 21.2, 38.1, 21.2, 1.5, false},
		{"46x21-a4", A4, 4, 12, 9.85, 21.3, 48.2, 21.2, 45.7, 21.2, 1.5, false},
		{"64x34-a4", A4, 3, 8, 7.25, 12.9, 66, 33.9, 63.5, 33.9, 2, false},
		{"64x38-a4", A4, 3, 7, 7.25, 15.15, 66, 38.1, 63.5, 38.1, 2, false},
		{"25x10-a4", A4, 7, 27, 8.6, 13.5, 27.9, 10, 25.4, 10, 1, false},
		{"67x25-letter", Letter, 3, 10, 0.1875 * inch, 0.5 * inch, 2.75 * inch, inch, 2.625 * inch, inch, 1.5, false},
		{"44x13-letter", Letter, 4, 20, 0.28125 * inch, 0.5 * inch, 2.0625 * inch, 0.5 * inch, 1.75 * inch, 0.5 * inch, 1, false},
		plain("plain-a4", A4, 38, 20),
		plain("plain-letter", Letter, 38, 20),
	}
}

// plain is a sheet of paper cut into labels that touch, centred, with 10 mm left about.
func plain(name string, sheet Size, width, height float64) Stock {
	const margin = 10
	columns, rows := int((sheet.Width-2*margin)/width), int((sheet.Height-2*margin)/height)
	return Stock{Name: name, Sheet: sheet, Columns: columns, Rows: rows, Across: width, Down: height, Width: width, Height: height,
		Left: (sheet.Width - float64(columns)*width) / 2, Top: (sheet.Height - float64(rows)*height) / 2, Cut: true}
}

// ParseStock is a stock by its name, or by its measures:
//
//	sheet=a4 columns=5 rows=13 left=4.75 top=10.7 across=40.6 down=21.2 width=38.1 height=21.2
//
// The error says in words what is wrong with the text.
func ParseStock(text string) (Stock, error) {
	var known []string
	for _, s := range Stocks() {
		if s.Name == text {
			return s, nil
		}
		known = append(known, s.Name)
	}
	if !strings.Contains(text, "=") {
		return Stock{}, fmt.Errorf("no label sheet is called %q: known are %s; another is given by its measures in mm, as in %q",
			text, strings.Join(known, ", "), "sheet=a4 columns=5 rows=13 left=4.75 top=10.7 across=40.6 down=21.2 width=38.1 height=21.2")
	}
	s, given := Stock{Name: "own"}, map[string]bool{}
	numbers := map[string]*float64{"left": &s.Left, "top": &s.Top, "across": &s.Across, "down": &s.Down, "width": &s.Width, "height": &s.Height}
	counts := map[string]*int{"columns": &s.Columns, "rows": &s.Rows}
	for _, field := range strings.Fields(text) {
		key, value, _ := strings.Cut(field, "=")
		given[key] = true
		number, isNumber := numbers[key]
		count, isCount := counts[key]
		var err error
		switch {
		case key == "sheet" && value == "a4":
			s.Sheet = A4
		case key == "sheet" && value == "letter":
			s.Sheet = Letter
		case isNumber:
			*number, err = strconv.ParseFloat(value, 64)
		case isCount:
			*count, err = strconv.Atoi(value)
		default:
			return Stock{}, fmt.Errorf("a label sheet has no measure %q: it has sheet (a4, letter), columns, rows, left, top, across, down, width, height", field)
		}
		if err != nil {
			return Stock{}, fmt.Errorf("the measure %q of the label sheet is no number", field)
		}
	}
	if len(given) < 9 {
		return Stock{}, fmt.Errorf("a label sheet needs all of sheet, columns, rows, left, top, across, down, width, height")
	}
	return s, s.fits()
}

// fits tells whether the labels lie on the sheet, beside each other, and hold a code.
func (s Stock) fits() error {
	const narrowest, lowest = 24, 8 // a symbol of 8 mm and a readable code of 5 points
	switch {
	case s.Columns < 1 || s.Rows < 1 || s.Count() > 1000:
		return fmt.Errorf("a label sheet has 1 to 1000 labels, not %d × %d", s.Columns, s.Rows)
	case !(s.Width >= narrowest) || !(s.Height >= lowest):
		return fmt.Errorf("a label of %g × %g mm is too small for a symbol and a readable code: %d × %d mm is the least", s.Width, s.Height, narrowest, lowest)
	case s.Columns > 1 && !(s.Across >= s.Width) || s.Rows > 1 && !(s.Down >= s.Height):
		return fmt.Errorf("the labels lie over each other: from one to the next it is less than their size")
	case !(s.Left >= 0) || !(s.Top >= 0) || math.IsInf(s.Left+s.Top+s.Across+s.Down+s.Width+s.Height, 0):
		return fmt.Errorf("a label lies before the edge of the sheet")
	}
	x, y := s.Place(s.Count() - 1)
	if x+s.Width > s.Sheet.Width+0.01 || y+s.Height > s.Sheet.Height+0.01 {
		return fmt.Errorf("the last label ends at %.1f × %.1f mm, beyond the sheet of %g × %g mm", x+s.Width, y+s.Height, s.Sheet.Width, s.Sheet.Height)
	}
	return nil
}

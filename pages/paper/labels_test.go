package paper

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxdm "github.com/makiuchi-d/gozxing/datamatrix"

	"earstone/programme/label"
)

func codes(t testing.TB, prefix string, from, n int) (all []label.Code) {
	t.Helper()
	for i := range n {
		c, ok := label.New(prefix, from+i)
		if !ok {
			t.Fatalf("%s %d is no code", prefix, from+i)
		}
		all = append(all, c)
	}
	return all
}

type box struct {
	page       int
	x, y, w, h float64
}

// painted draws labels and keeps every black box.
func painted(l Labels) (d *Doc, boxes []box) {
	d = New(l.Stock.Sheet, l.About)
	d.filled = func(page int, x, y, w, h float64) { boxes = append(boxes, box{page, x, y, w, h}) }
	return l.draw(d), boxes
}

func decode(picture image.Image) (string, error) {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		return "", err
	}
	r, err := zxdm.NewDataMatrixReader().Decode(bitmap, nil)
	if err != nil {
		return "", err
	}
	return r.GetText(), nil
}

// picture of the boxes that lie within a label, each module 4 dots wide.
func picture(boxes []box, page int, x, y, w, h, module float64) image.Image {
	scale := 4 / module
	left, top, right, bottom := math.Inf(1), math.Inf(1), 0.0, 0.0
	var in []box
	for _, b := range boxes {
		if b.page == page && b.x >= x && b.x+b.w <= x+w && b.y >= y && b.y+b.h <= y+h {
			in = append(in, b)
			left, top = min(left, b.x), min(top, b.y)
			right, bottom = max(right, b.x+b.w), max(bottom, b.y+b.h)
		}
	}
	dots := func(mm float64) int { return int(math.Round(mm * scale)) }
	if len(in) == 0 {
		return image.NewGray(image.Rect(0, 0, 8, 8))
	}
	p := image.NewGray(image.Rect(0, 0, dots(right-left)+16, dots(bottom-top)+16))
	draw.Draw(p, p.Bounds(), image.White, image.Point{}, draw.Src)
	for _, b := range in {
		r := image.Rect(dots(b.x-left), dots(b.y-top), dots(b.x+b.w-left), dots(b.y+b.h-top)).Add(image.Pt(8, 8))
		draw.Draw(p, r, image.NewUniform(color.Black), image.Point{}, draw.Src)
	}
	return p
}

func TestEveryLabelOfASheetIsReadBack(t *testing.T) {
	for i, stock := range Stocks() {
		l := Labels{Stock: stock, Codes: codes(t, "QB", 412+i*1000, stock.Count()+3), Begin: 2, Name: "Quarrow Banks ear-stone programme"}
		d, boxes := painted(l)
		if want := 2; d.Pages() != want {
			t.Errorf("%s: %d labels from the third take %d sheets, want %d", stock.Name, len(l.Codes), d.Pages(), want)
		}
		module := math.Inf(1)
		for _, b := range boxes {
			module = min(module, b.h)
		}
		if module < 0.35 {
			t.Errorf("%s: a module is %.2f mm wide, too small for a printer at hand and a phone", stock.Name, module)
		}
		for i, code := range l.Codes {
			at := l.Begin + i
			x, y := stock.Place(at % stock.Count())
			got, err := decode(picture(boxes, at/stock.Count(), x, y, stock.Width, stock.Height, module))
			if err != nil || got != code.String() {
				t.Fatalf("%s: label %d of page %d reads %q (%v), want %s", stock.Name, at%stock.Count()+1, at/stock.Count()+1, got, err, code)
			}
		}
	}
}

// TestAWholePrintedSheetIsReadBack prints a sheet, makes a picture of it with a program
// that shares no code with us, and reads each label out of that.
func TestAWholePrintedSheetIsReadBack(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm (Debian package poppler-utils) is not there: no picture of a printed sheet")
	}
	stock, err := ParseStock("38x21-a4")
	if err != nil {
		t.Fatal(err)
	}
	l := Labels{Stock: stock, Codes: codes(t, "QB", 1, stock.Count()), Name: "Quarrow Banks ear-stone programme"}
	d, boxes := painted(l)
	pdf, err := d.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	module := boxes[0].h
	for _, b := range boxes {
		module = min(module, b.h)
	}
	dir := t.TempDir()
	in := filepath.Join(dir, "sheet.pdf")
	if err := os.WriteFile(in, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	dpi := 4 * 25.4 / module // four dots a module: the reader of the test wants clean pictures
	out, err := exec.Command(tool, "-r", strconv.FormatFloat(dpi, 'f', 4, 64), "-gray", "-png", in, filepath.Join(dir, "page")).CombinedOutput()
	if err != nil {
		t.Fatalf("pdftoppm: %v: %s", err, out)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "page-1.png"))
	if err != nil {
		t.Fatal(err)
	}
	page, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	read := 0
	for i, code := range l.Codes {
		x, y := stock.Place(i)
		dots := func(mm float64) int { return int(mm / 25.4 * dpi) }
		cut := image.Rect(dots(x), dots(y), dots(x+stock.Width*0.45), dots(y+stock.Height))
		part := image.NewGray(image.Rect(0, 0, cut.Dx(), cut.Dy()))
		draw.Draw(part, part.Bounds(), page, cut.Min, draw.Src)
		got, err := decode(part)
		switch {
		case err == nil && got == code.String():
			read++
		case err == nil:
			t.Errorf("the printed label %s reads %s", code, got)
		}
	}
	// The reader of the test gives up on some pictures that are not clean to the dot; a
	// phone's does not. None may read wrong, and nearly all must be read.
	t.Logf("%d of %d printed labels were read back", read, stock.Count())
	if want := stock.Count() * 9 / 10; read < want {
		t.Errorf("%d of %d printed labels are read back, want %d at least", read, stock.Count(), want)
	}
}

func TestStocksLieOnTheirSheets(t *testing.T) {
	for _, s := range Stocks() {
		if err := s.fits(); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
		x, y := s.Place(s.Count() - 1)
		if right := s.Sheet.Width - x - s.Width; math.Abs(right-s.Left) > 0.6 {
			t.Errorf("%s: %.2f mm are left on the left and %.2f on the right", s.Name, s.Left, right)
		}
		if below := s.Sheet.Height - y - s.Height; math.Abs(below-s.Top) > 0.6 {
			t.Errorf("%s: %.2f mm are left above and %.2f below", s.Name, s.Top, below)
		}
	}
}

func TestOwnStock(t *testing.T) {
	s, err := ParseStock("sheet=letter columns=2 rows=5 left=10 top=12 across=98 down=50 width=90 height=45")
	if err != nil || s.Count() != 10 || s.Title() != "90 × 45 mm, 10 a sheet, letter" {
		t.Errorf("the own sheet is %q, %v", s.Title(), err)
	}
	for text, want := range map[string]string{
		"99x99": "no label sheet is called",
		"sheet=a4 columns=2 rows=5 left=10 top=12 across=98 down=50 width=90":                   "needs all of",
		"sheet=a4 columns=3 rows=5 left=10 top=12 across=98 down=50 width=90 height=45":         "beyond the sheet",
		"sheet=a4 columns=2 rows=5 left=10 top=12 across=80 down=50 width=90 height=45":         "over each other",
		"sheet=a4 columns=2 rows=5 left=-1 top=12 across=98 down=50 width=90 height=45":         "before the edge",
		"sheet=a4 columns=2 rows=5 left=1 top=12 across=98 down=50 width=9 height=45":           "too small",
		"sheet=a4 columns=0 rows=5 left=1 top=12 across=98 down=50 width=90 height=45":          "1 to 1000 labels",
		"sheet=a4 columns=2 rows=five left=1 top=12 across=98 down=50 width=90 height=45":       "is no number",
		"sheet=a4 columns=2 rows=5 left=1 top=12 across=98 down=50 width=90 height=45 colour=1": "has no measure",
		"sheet=a4 columns=2 rows=5 left=NaN top=12 across=98 down=50 width=90 height=45":        "before the edge",
	} {
		if _, err := ParseStock(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q is refused with %v, want %q", text, err, want)
		}
	}
}

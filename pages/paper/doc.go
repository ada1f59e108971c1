// Package paper draws printable pages.
//
// Doc is a PDF in the making: millimetres from the upper left corner, three embedded
// faces, lines, boxes and curves. Sheets of labels, data cards and the dissection guide
// are drawn on it here, letters elsewhere. The faces hold Latin scripts; Lacks tells
// what they lack, and whoever must write that takes another way.
package paper

import (
	"bytes"
	_ "embed"
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
)

// Size is the size of a page in mm.
type Size struct{ Width, Height float64 }

// The sizes of paper that printers at hand take.
var (
	A4     = Size{210, 297}
	Letter = Size{215.9, 279.4}
)

// Turned is the page on its side.
func (s Size) Turned() Size { return Size{s.Height, s.Width} }

// Face is one of the embedded faces.
type Face uint8

// The faces.
const (
	Regular Face = iota
	SemiBold
	Italic
)

var (
	//go:embed fonts/regular.ttf
	regular []byte
	//go:embed fonts/semibold.ttf
	semibold []byte
	//go:embed fonts/italic.ttf
	italic []byte

	faces = map[Face][]byte{Regular: regular, SemiBold: semibold, Italic: italic}
	names = map[Face]string{Regular: "regular", SemiBold: "semibold", Italic: "italic"}
)

// Colour is red, green and blue, 0 to 255 each.
type Colour [3]uint8

// The colours of print: ink first; all but ink are chosen to be told apart in grey too.
var (
	Ink    = Colour{29, 40, 48}
	Muted  = Colour{85, 97, 106}
	Rule   = Colour{176, 182, 186}
	Wash   = Colour{243, 240, 232}
	Sea    = Colour{28, 95, 128}
	SeaDim = Colour{207, 225, 233}
	Rust   = Colour{163, 74, 18}
	Sand   = Colour{242, 220, 200}
	White  = Colour{255, 255, 255}
	Black  = Colour{0, 0, 0}
)

// Doc is a PDF in the making. Its first trouble stands in the error of Bytes.
type Doc struct {
	pdf  *fpdf.Fpdf
	size Size
	pt   float64 // of the face at hand
	has  [Italic + 1]bool
	// filled is told of every black box, in mm on its page; nil outside of tests.
	filled func(page int, x, y, w, h float64)
	// wrote is told of every line of text, its baseline and its width; nil outside of tests.
	wrote func(page int, x, y, w float64, text string)
}

// About is what a PDF says of itself.
type About struct {
	Title, Language string
	Made            time.Time // the same time gives the same bytes
}

// New begins a PDF whose pages have a size.
func New(size Size, about About) *Doc {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: size.Width, Ht: size.Height}})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.SetCellMargin(0)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(about.Made)
	pdf.SetModificationDate(about.Made)
	pdf.SetTitle(about.Title, true)
	pdf.SetLang(about.Language)
	pdf.SetProducer("earstone", true)
	d := &Doc{pdf: pdf, size: size}
	d.Face(Regular, 10)
	return d
}

// Size is the size of the pages.
func (d *Doc) Size() Size { return d.size }

// Page begins a page; the face and the colours stay.
func (d *Doc) Page() { d.pdf.AddPage() }

// Pages is the number of pages until now.
func (d *Doc) Pages() int { return d.pdf.PageCount() }

// Bytes ends the PDF.
func (d *Doc) Bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("making a PDF: %w", err)
	}
	return out.Bytes(), nil
}

// Face chooses the face and its size in points.
func (d *Doc) Face(face Face, pt float64) {
	d.pt = pt
	if !d.has[face] { // reading one takes as long as setting a letter: none is read in vain
		d.pdf.AddUTF8FontFromBytes(names[face], "", faces[face])
		d.has[face] = true
	}
	d.pdf.SetFont(names[face], "", pt)
}

// Colour chooses the colour of text.
func (d *Doc) Colour(c Colour) { d.pdf.SetTextColor(int(c[0]), int(c[1]), int(c[2])) }

// Width of a text in the face at hand, mm.
func (d *Doc) Width(text string) float64 { return d.pdf.GetStringWidth(text) }

// Text writes a line from x, its baseline at y.
func (d *Doc) Text(x, y float64, text string) {
	if d.wrote != nil {
		d.wrote(d.Pages()-1, x, y, d.Width(text), text)
	}
	d.pdf.Text(x, y, text)
}

// Right writes a line that ends at x.
func (d *Doc) Right(x, y float64, text string) { d.Text(x-d.Width(text), y, text) }

// Centre writes a line about x.
func (d *Doc) Centre(x, y float64, text string) { d.Text(x-d.Width(text)/2, y, text) }

// Leading is the usual distance of baselines in the face at hand, mm.
func (d *Doc) Leading() float64 { return d.pt * 1.32 * 25.4 / 72 }

// Fit makes the face at hand small enough for a text to be w wide, down to least points;
// what is too long even then is cut, with a sign that it was.
func (d *Doc) Fit(face Face, pt, least, w float64, text string) string {
	for d.Face(face, pt); d.Width(text) > w && pt > least; d.Face(face, pt) {
		pt = max(least, pt-0.25)
	}
	whole := text
	for d.Width(text) > w && text != "…" {
		_, last := utf8.DecodeLastRuneInString(strings.TrimSuffix(text, "…"))
		text = strings.TrimSuffix(text, "…")
		text = strings.TrimRight(text[:len(text)-last], " ") + "…"
	}
	if text != whole && text == "…" {
		return ""
	}
	return text
}

// Lines breaks a text into lines of at most w; a word that is wider is broken amid.
func (d *Doc) Lines(text string, w float64) (lines []string) {
	for paragraph := range strings.SplitSeq(text, "\n") {
		line := ""
		for _, word := range strings.Split(paragraph, " ") {
			for d.Width(word) > w && utf8.RuneCountInString(word) > 1 {
				n := 0
				for at := range word {
					if at > 0 && d.Width(word[:at]) > w {
						break
					}
					n = at
				}
				n = max(n, len(string([]rune(word)[:1])))
				if line != "" {
					lines, line = append(lines, line), ""
				}
				lines, word = append(lines, word[:n]), word[n:]
			}
			switch {
			case line == "":
				line = word
			case d.Width(line+" "+word) <= w:
				line += " " + word
			default:
				lines, line = append(lines, line), word
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// Para writes a text in lines of at most w, the first baseline at y, and returns the
// baseline after the last.
func (d *Doc) Para(x, y, w float64, text string) float64 {
	for _, line := range d.Lines(text, w) {
		d.Text(x, y, line)
		y += d.Leading()
	}
	return y
}

var parsed = sync.OnceValue(func() *sfnt.Font {
	font, err := sfnt.Parse(regular)
	if err != nil {
		panic("paper: " + err.Error())
	}
	return font
})

// Lacks are the signs of a text that the faces do not have, each once.
func Lacks(text string) string {
	var buffer sfnt.Buffer
	var lack strings.Builder
	for _, r := range text {
		at, err := parsed().GlyphIndex(&buffer, r)
		if r >= ' ' && (err != nil || at == 0) && !strings.ContainsRune(lack.String(), r) {
			lack.WriteRune(r)
		}
	}
	return lack.String()
}

package paper

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"
	"time"

	"earstone/pages/words"
)

var made = time.Date(2031, 5, 2, 0, 0, 0, 0, time.UTC)

func english(t testing.TB) *words.Printed {
	t.Helper()
	en, ok := words.PrintedIn("en")
	if !ok {
		t.Fatal("there are no English texts")
	}
	return en
}

func guideOn(t testing.TB, sheet Size) Guide {
	t.Helper()
	return Guide{Sheet: sheet, Name: "Quarrow Banks ear-stone programme", Areas: []string{"Quarrow Bank", "Skell Bank", "Dunmarrow Bank"},
		Code: codes(t, "QB", 412, 1)[0], Words: english(t), About: About{Title: "Guide", Language: "en", Made: made}}
}

func cardsOn(t testing.TB, sheet Size, areas []string) Cards {
	t.Helper()
	return Cards{Sheet: sheet, Codes: codes(t, "QBXY", 9_000_001, 6), Name: "Quarrow Banks ear-stone programme", Areas: areas, Words: english(t),
		About: About{Title: "Cards", Language: "en", Made: made}}
}

// line is one line of text as it was written.
type line struct {
	page    int
	x, y, w float64
	text    string
}

func texts(d *Doc, draw func(*Doc) *Doc) (lines []line) {
	d.wrote = func(page int, x, y, w float64, text string) { lines = append(lines, line{page, x, y, w, text}) }
	draw(d)
	return lines
}

// inside tells each line that leaves its cell: the page parted into columns × rows, with
// a margin of each cell left white.
func inside(t *testing.T, what string, size Size, columns, rows, margin float64, lines []line) {
	t.Helper()
	for _, l := range lines {
		w, h := size.Width/columns, size.Height/rows
		left, top := float64(int(l.x/w))*w, float64(int(l.y/h))*h
		if l.x < left+margin || l.x+l.w > left+w-margin || l.y < top+margin || l.y > top+h-margin {
			t.Errorf("%s: %q on page %d leaves its part of the page (x %.1f to %.1f, y %.1f)", what, l.text, l.page+1, l.x, l.x+l.w, l.y)
		}
		if lack := Lacks(l.text); lack != "" {
			t.Errorf("%s: the faces lack %q of %q", what, lack, l.text)
		}
	}
}

func TestNothingRunsOverItsEdge(t *testing.T) {
	many := strings.Split("Upper Quarrow Bank and the deep to the west of it,Skell,Dunmarrow,Outer Dunmarrow,Inner Skell,North,South,East,West", ",")
	for name, sheet := range map[string]Size{"A4": A4, "letter": Letter} {
		inside(t, "the guide on "+name, sheet.Turned(), 2, 1, 6, texts(New(sheet.Turned(), About{}), guideOn(t, sheet).draw))
		for _, areas := range [][]string{nil, {"Skell"}, many, append(many, "one too many")} {
			inside(t, "cards on "+name, sheet, 2, 2, 5, texts(New(sheet, About{}), cardsOn(t, sheet, areas).draw))
		}
	}
}

// poppler runs a program of poppler-utils on a PDF.
func poppler(t *testing.T, pdf []byte, name string, args ...string) string {
	t.Helper()
	tool, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s (Debian package poppler-utils) is not there", name)
	}
	cmd := exec.Command(tool, args...)
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return string(out)
}

func mustBytes(t testing.TB, d *Doc) []byte {
	t.Helper()
	pdf, err := d.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return pdf
}

func TestFacesAreEmbedded(t *testing.T) {
	for what, d := range map[string]*Doc{"guide": guideOn(t, A4).Document(), "cards": cardsOn(t, Letter, nil).Document()} {
		listed := strings.Split(strings.TrimSpace(poppler(t, mustBytes(t, d), "pdffonts", "-")), "\n")
		if len(listed) < 4 {
			t.Errorf("%s: fonts listed are %q", what, listed)
		}
		for _, font := range listed[2:] {
			fields := strings.Fields(font)
			if n := len(fields); n < 5 || fields[n-5] != "yes" {
				t.Errorf("%s: a font is not embedded: %s", what, font)
			}
		}
	}
}

// What design and safety ask of the guide and of every card.
func TestCautionsAndFactsAreThere(t *testing.T) {
	text := strings.Join(strings.Fields(poppler(t, mustBytes(t, guideOn(t, A4).Document()), "pdftotext", "-layout", "-", "-")), " ")
	for _, want := range []string{
		"13 mm", "50 mm", "three quarters", "three to four minutes", "canals", "membrane", "fork of the tail", "common practice",
		"Cut away from your hand", "glove", "Wear eye protection", "near water", "Bone is sharp", "histamine", "ethanol", "resin", "two people",
		"Law and licence", "before", "Skell Bank", "QB-00412-T",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the guide does not say %q", want)
		}
	}
	cards := strings.Join(strings.Fields(poppler(t, mustBytes(t, cardsOn(t, A4, []string{"Skell"}).Document()), "pdftotext", "-raw", "-", "-")), " ")
	for _, want := range []string{"Cut away from your hand", "glove", "the head fixed", "Eye protection", "near water", "Bone is sharp", "histamine",
		"Lift heavy heads", "Law and licence", "over the curve of the body", "QBXY-9000001-"} {
		if n := strings.Count(cards, want); want != "QBXY-9000001-" && n != 6 || n == 0 {
			t.Errorf("six cards say %q %d times", want, n)
		}
	}
}

func TestSameInputSameBytes(t *testing.T) {
	if a, b := mustBytes(t, guideOn(t, A4).Document()), mustBytes(t, guideOn(t, A4).Document()); !bytes.Equal(a, b) {
		t.Error("the same guide twice gives two PDFs")
	}
}

func TestLinesBreak(t *testing.T) {
	d := New(A4, About{})
	d.Page()
	d.Face(Regular, 10)
	text := "one two three fourfivesixseveneightnineteneleventwelve thirteen\nnext"
	var joined strings.Builder
	for _, l := range d.Lines(text, 20) {
		if d.Width(l) > 20 {
			t.Errorf("the line %q is %.1f mm wide, want 20 at most", l, d.Width(l))
		}
		joined.WriteString(l)
	}
	if got, want := joined.String(), strings.NewReplacer(" ", "", "\n", "").Replace(text); strings.ReplaceAll(got, " ", "") != want {
		t.Errorf("the lines hold %q, want %q", got, want)
	}
	if got := d.Fit(Regular, 10, 8, 12, "much too long for this"); d.Width(got) > 12 || !strings.HasSuffix(got, "…") {
		t.Errorf("a text that does not fit is cut to %q, %.1f mm", got, d.Width(got))
	}
	if got := Lacks("Skell 釣り – ½ … İğ"); got != "釣り" {
		t.Errorf("the faces lack %q, want 釣り", got)
	}
}

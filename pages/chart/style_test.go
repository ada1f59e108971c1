package chart

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of an sRGB colour. WCAG 2.2, definition of
// relative luminance.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	total := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatalf("colour %q: %v", hex, err)
		}
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		total += weight * c
	}
	return total
}

func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// palettes reads the colours of the style sheet: light, dark by the reader's
// preference, dark by data-theme.
func palettes(t *testing.T) []map[string]string {
	t.Helper()
	colour := regexp.MustCompile(`--c-([a-z0-9-]+): var\(--[a-z0-9-]+, (#[0-9a-f]{6})\)`)
	var out []map[string]string
	for _, block := range strings.Split(Style(), "--c-ink:")[1:] {
		p := map[string]string{}
		for _, m := range colour.FindAllStringSubmatch("--c-ink:"+strings.SplitN(block, "}", 2)[0], -1) {
			p[m[1]] = m[2]
		}
		out = append(out, p)
	}
	if len(out) != 3 {
		t.Fatalf("the style sheet has %d palettes, want light, dark and chosen dark", len(out))
	}
	return out
}

func TestContrast(t *testing.T) {
	// WCAG 2.2, 1.4.3 (text, AA) and 1.4.11 (parts of pictures).
	const text, part = 4.5, 3.0
	for i, p := range palettes(t) {
		for _, c := range []struct {
			on, what string
			least    float64
		}{
			{"paper", "ink", text}, {"paper", "muted", text},
			{"paper", "1", text}, {"paper", "2", text}, {"paper", "3", text}, {"paper", "4", text},
			{"1-soft", "ink", text}, {"2-soft", "ink", text}, {"rule", "ink", text},
			{"1-soft", "1", part}, {"paper", "axis", part}, {"rule", "1", part},
		} {
			if got := contrast(t, p[c.on], p[c.what]); got < c.least {
				t.Errorf("palette %d: %s on %s has contrast %.2f, want %v", i, c.what, c.on, got, c.least)
			}
		}
	}
}

// TestWordsOnTintsCanBeRead holds ink against the darkest tint of a map, half of
// the accent over paper.
func TestWordsOnTintsCanBeRead(t *testing.T) {
	const text = 4.5 // WCAG 2.2, 1.4.3
	for i, p := range palettes(t) {
		mixed := "#"
		for c := 1; c < 7; c += 2 {
			var a, b int64
			a, _ = strconv.ParseInt(p["1"][c:c+2], 16, 64)
			b, _ = strconv.ParseInt(p["paper"][c:c+2], 16, 64)
			mixed += fmt.Sprintf("%02x", (a+b)/2)
		}
		if got := contrast(t, mixed, p["ink"]); got < text {
			t.Errorf("palette %d: ink on the darkest tint has contrast %.2f, want %v", i, got, text)
		}
	}
}

func TestBothDarksAreOne(t *testing.T) {
	p := palettes(t)
	for name, colour := range p[1] {
		if p[2][name] != colour || p[0][name] == "" {
			t.Errorf("%s is %s by preference, %s when chosen, %q in light", name, colour, p[2][name], p[0][name])
		}
	}
}

// TestEveryClassIsStyled finds classes that are drawn but not in the style sheet.
func TestEveryClassIsStyled(t *testing.T) {
	plain := map[string]bool{"chart": true, "marks": true, "dash-0": true}
	for _, s := range samples() {
		parse(t, s.Draw()).walk(func(e *element) {
			for _, class := range strings.Fields(e.attr["class"]) {
				if !plain[class] && !regexp.MustCompile(`\.`+class+`\b`).MatchString(Style()) {
					t.Errorf("%s draws class %q, which has no style", s.name, class)
				}
			}
		})
	}
}

func TestNothingFromElsewhere(t *testing.T) {
	for _, s := range samples() {
		alone := strings.ReplaceAll(string(s.Draw().Alone()), `xmlns="http://www.w3.org/2000/svg"`, "")
		for _, word := range []string{"http", "url(", "href", "@import", "<script", " on"} {
			if word == " on" {
				if regexp.MustCompile(` on[a-z]+=`).MatchString(alone) {
					t.Errorf("%s carries a handler", s.name)
				}
				continue
			}
			if strings.Contains(alone, word) {
				t.Errorf("%s contains %q", s.name, word)
			}
		}
		parse(t, s.Draw().Alone())
	}
}

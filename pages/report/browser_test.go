package report

import (
	"context"
	_ "embed"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"earstone/pages/pagetest"
)

//go:embed testdata/looks.js
var looksScript string

// looks is what looks.js finds.
type looks struct {
	Complaints []string
	Texts      int
	Paper      string
}

// open starts a browser with a page in it.
func open(t *testing.T, name string) context.Context {
	t.Helper()
	ctx := pagetest.Browse(t)
	pagetest.Do(t, ctx, chromedp.Navigate("file://"+name))
	return ctx
}

// kept writes a page into a folder of the test.
func kept(t *testing.T, content string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestPageInABrowser(t *testing.T) {
	o, about := thinOne(t)
	ctx := open(t, kept(t, write(t, o, about)))
	papers := map[string]string{}
	for _, width := range []int64{1000, 380} {
		for _, scheme := range []string{"light", "dark"} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(width, 900), pagetest.Prefers(scheme))
			for _, open := range []string{"false", "true"} {
				pagetest.Ask[int](t, ctx, `document.querySelectorAll("details").forEach(d => d.open = `+open+`), 0`)
				seen := pagetest.Ask[looks](t, ctx, looksScript)
				for _, complaint := range seen.Complaints {
					t.Errorf("at %d px, %s, folds open %s: %s", width, scheme, open, complaint)
				}
				if seen.Texts < 500 {
					t.Errorf("at %d px only %d texts can be seen", width, seen.Texts)
				}
				papers[scheme] = seen.Paper
			}
		}
	}
	if papers["light"] == papers["dark"] {
		t.Errorf("the paper is %s in light and in dark", papers["light"])
	}
	for _, chosen := range []string{"light", "dark", "light"} { // the reader's choice goes before the system's
		pagetest.Ask[int](t, ctx, `document.getElementById("theme-`+chosen+`").click(), 0`)
		if seen := pagetest.Ask[looks](t, ctx, looksScript); seen.Paper != papers[chosen] {
			t.Errorf("with the colours set to %s the paper is %s, want %s", chosen, seen.Paper, papers[chosen])
		}
	}
}

func TestPageByKeyboard(t *testing.T) {
	o, about := smallOne(t)
	ctx := open(t, kept(t, write(t, o, about)))
	pagetest.Do(t, ctx, chromedp.KeyEvent(kb.Tab))
	if at := pagetest.Ask[string](t, ctx, `document.activeElement.className + " " + (document.activeElement.getBoundingClientRect().left >= 0)`); at != "skip true" {
		t.Errorf("the first stop of the keyboard is %q, want the way to the results, in sight", at)
	}
	pagetest.Do(t, ctx, chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	if chosen := pagetest.Ask[string](t, ctx, `document.querySelector("input:checked").id`); chosen != "theme-dark" {
		t.Errorf("two steps to the right choose %s, want theme-dark", chosen)
	}
	pagetest.Do(t, ctx, chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
	if opened := pagetest.Ask[bool](t, ctx, `document.activeElement.tagName === "SUMMARY" && document.activeElement.parentElement.open`); !opened {
		t.Error("the first fold does not open by keyboard")
	}
	pagetest.Do(t, ctx, chromedp.KeyEvent(kb.Tab))
	if at := pagetest.Ask[string](t, ctx, `document.activeElement.className`); at != "scroll" {
		t.Errorf("after a fold that is open the keyboard stops at %q, want its table", at)
	}
	order := pagetest.Ask[bool](t, ctx, `[...document.querySelectorAll("[tabindex]")].every(e => e.tabIndex === 0)`)
	if !order {
		t.Error("some element breaks the order of the page for the keyboard")
	}
}

var sheets = regexp.MustCompile(`/Type\s*/Page\b[^s]`)

func TestPageOnPaper(t *testing.T) {
	o, about := smallOne(t)
	ctx := open(t, kept(t, write(t, o, about)))
	printed, err := chromedp.Run(ctx, func(ctx context.Context, target *chromedp.Target) (cdppage.PrintToPDFResult, error) {
		return cdp.Call(ctx, target, cdppage.PrintToPDF, cdppage.PrintToPDFParams{})
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(sheets.FindAll(printed.Data, -1)); n < 5 || n > 36 {
		t.Errorf("the page takes %d sheets of paper, want 5 to 36", n)
	}
	_, err = chromedp.Run(ctx, func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print",
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}})
		return chromedp.Void{}, err
	})
	if err != nil {
		t.Fatal(err)
	}
	const catchTable = `document.querySelector("#figure-1 table")`
	if !pagetest.Ask[bool](t, ctx, catchTable+`.checkVisibility({contentVisibilityAuto: true}) && `+catchTable+`.getBoundingClientRect().height > 100`) {
		t.Error("the table of the catch at age is not on paper")
	}
	if ink := pagetest.Ask[string](t, ctx, `getComputedStyle(document.body).color`); ink != "rgb(29, 40, 48)" {
		t.Errorf("the ink on paper is %s on a system that prefers dark, want dark ink", ink)
	}
	if shown := pagetest.Ask[int](t, ctx, `[...document.querySelectorAll("nav, .theme, .skip")].filter(e => e.checkVisibility()).length`); shown > 0 {
		t.Errorf("%d parts that are of no use on paper are printed", shown)
	}
}

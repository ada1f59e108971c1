package report

import (
	"context"
	_ "embed"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

//go:embed testdata/looks.js
var looksScript string

// looks is what looks.js finds.
type looks struct {
	Complaints []string
	Texts      int
	Paper      string
}

// browserPath is the browser to test with.
func browserPath(t *testing.T) string {
	t.Helper()
	if path := os.Getenv("EARSTONE_CHROMIUM"); path != "" {
		if _, err := os.Stat(path); err != nil {
			t.Fatalf("EARSTONE_CHROMIUM is %s, and there is no such program: set it to the path of Chromium, or unset it.", path)
		}
		return path
	}
	const usual = "/usr/bin/chromium"
	if _, err := os.Stat(usual); err != nil {
		t.Skip("There is no Chromium here, so that no page is opened: install it, or set EARSTONE_CHROMIUM to its path.")
	}
	return usual
}

// open starts a browser with a page in it, and fails when the page writes an error to
// its console until the test ends.
func open(t *testing.T, name string) context.Context {
	t.Helper()
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(browserPath(t)),
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	allocator, closeAll := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(closeAll)
	ctx, closeTab := chromedp.NewContext(allocator)
	t.Cleanup(closeTab)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("starting the browser: %v", err)
	}
	limited, cancel := context.WithTimeout(ctx, 3*time.Minute)
	messages := chromedp.Console(limited)
	must(t, limited, chromedp.Navigate("file://"+name))
	done := make(chan []string)
	go func() { done <- errorsIn(messages) }()
	t.Cleanup(func() {
		cancel()
		for _, text := range <-done {
			t.Errorf("the page writes to the console: %s", text)
		}
	})
	return limited
}

// errorsIn are the complaints of a console until it is closed.
func errorsIn(messages func(func(chromedp.ConsoleMessage, error) bool)) (texts []string) {
	for m, err := range messages {
		if err != nil {
			return texts
		}
		texts = append(texts, m.String())
	}
	return texts
}

func must(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func ask[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	answer, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("asking %s: %v", expression, err)
	}
	return answer
}

// prefers sets what the reader's system prefers, light or dark.
func prefers(scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
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
			must(t, ctx, chromedp.EmulateViewport(width, 900), prefers(scheme))
			for _, open := range []string{"false", "true"} {
				ask[int](t, ctx, `document.querySelectorAll("details").forEach(d => d.open = `+open+`), 0`)
				seen := ask[looks](t, ctx, looksScript)
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
		ask[int](t, ctx, `document.getElementById("theme-`+chosen+`").click(), 0`)
		if seen := ask[looks](t, ctx, looksScript); seen.Paper != papers[chosen] {
			t.Errorf("with the colours set to %s the paper is %s, want %s", chosen, seen.Paper, papers[chosen])
		}
	}
}

func TestPageByKeyboard(t *testing.T) {
	o, about := smallOne(t)
	ctx := open(t, kept(t, write(t, o, about)))
	must(t, ctx, chromedp.KeyEvent(kb.Tab))
	if at := ask[string](t, ctx, `document.activeElement.className + " " + (document.activeElement.getBoundingClientRect().left >= 0)`); at != "skip true" {
		t.Errorf("the first stop of the keyboard is %q, want the way to the results, in sight", at)
	}
	must(t, ctx, chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	if chosen := ask[string](t, ctx, `document.querySelector("input:checked").id`); chosen != "theme-dark" {
		t.Errorf("two steps to the right choose %s, want theme-dark", chosen)
	}
	must(t, ctx, chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
	if opened := ask[bool](t, ctx, `document.activeElement.tagName === "SUMMARY" && document.activeElement.parentElement.open`); !opened {
		t.Error("the first fold does not open by keyboard")
	}
	must(t, ctx, chromedp.KeyEvent(kb.Tab))
	if at := ask[string](t, ctx, `document.activeElement.className`); at != "scroll" {
		t.Errorf("after a fold that is open the keyboard stops at %q, want its table", at)
	}
	order := ask[bool](t, ctx, `[...document.querySelectorAll("[tabindex]")].every(e => e.tabIndex === 0)`)
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
	if n := len(sheets.FindAll(printed.Data, -1)); n < 5 || n > 32 {
		t.Errorf("the page takes %d sheets of paper, want 5 to 32", n)
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
	if !ask[bool](t, ctx, catchTable+`.checkVisibility({contentVisibilityAuto: true}) && `+catchTable+`.getBoundingClientRect().height > 100`) {
		t.Error("the table of the catch at age is not on paper")
	}
	if ink := ask[string](t, ctx, `getComputedStyle(document.body).color`); ink != "rgb(29, 40, 48)" {
		t.Errorf("the ink on paper is %s on a system that prefers dark, want dark ink", ink)
	}
	if shown := ask[int](t, ctx, `[...document.querySelectorAll("nav, .theme, .skip")].filter(e => e.checkVisibility()).length`); shown > 0 {
		t.Errorf("%d parts that are of no use on paper are printed", shown)
	}
}

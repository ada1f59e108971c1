package web

import (
	"context"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"earstone/pages/pagetest"
	"earstone/store/jobs"
)

// TestPagesOfRunsCanBeUsedByEverybody: the guidelines, dark and narrow, of the pages of
// runs and of data.
func TestPagesOfRunsCanBeUsedByEverybody(t *testing.T) {
	p := furnished(t, "mara")
	v := p.visitor(t)
	first, second := p.run(t, v, "7", jobs.Done), p.run(t, v, "507", jobs.Done)
	refused, atWork := p.run(t, v, "13", jobs.Failed), p.run(t, v, slow, jobs.Running)
	ctx := pagetest.Browse(t, "the server responded with a status of 4")
	beneath := first + "/beneath?" + url.Values{"place": {"BFT|2025||||"}, "age": {"5"}}.Encode()
	compare := "/estimate/compare?" + url.Values{"a": {first[10:]}, "b": {second[10:]}}.Encode()
	for _, s := range []scene{
		{"estimate", at("/estimate")}, {"estimate-wrong", sent("/estimate", map[string]string{"replicates": "12"})},
		{"run-at-work", at(atWork)}, {"run", at(first)}, {"run-refused", at(refused)}, {"beneath", at(beneath)}, {"compare", at(compare)},
		{"data", at("/data")}, {"token", sentFrom("/people", "form.programs", "program", "season report")},
	} {
		pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), pagetest.Prefers("light"))
		s.open(t, ctx, p.URL)
		for _, look := range []struct {
			suffix, scheme string
			width          int64
		}{{"", "light", 1200}, {"-dark", "dark", 1200}, {"-380", "light", 380}} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(look.width, 900), pagetest.Prefers(look.scheme))
			p.judge(t, ctx, s.name+look.suffix)
			if *update && (look.suffix == "" || s.name == "run") {
				picture(t, ctx, s.name+look.suffix)
			}
		}
	}
}

// sentFrom fills one field of a form and sends it.
func sentFrom(path, form, name, value string) func(*testing.T, context.Context, string) {
	return func(t *testing.T, ctx context.Context, base string) {
		pagetest.Do(t, ctx, chromedp.Navigate(base+path))
		pagetest.Ask[int](t, ctx, fmt.Sprintf(`document.querySelector("%[1]s [name=%[2]s]").value = %[3]q, window.left = 1, document.querySelector(%[1]q).requestSubmit(), 0`, form, name, value))
		arrived(t, ctx)
	}
}

// TestRunByKeyboard starts a run, watches it to its end, and opens a number onto its fish,
// with the keyboard alone.
func TestRunByKeyboard(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 3)
	ctx := pagetest.Browse(t)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(p.URL+"/"))
	pagetest.Ask[int](t, ctx, `document.querySelector(".band a[href='/estimate']").focus(), 0`)
	enter(t, ctx)
	if at := focus(t, ctx); at != "Start a run" {
		t.Fatalf("on the page Estimate the keyboard begins at %q, want the button that starts a run", at)
	}
	enter(t, ctx)
	comes(t, ctx, `document.querySelector("a.do[href$='/report']") !== null`, "the run is done and the page tells it by itself")
	tabTo(t, ctx, `/beneath?age=5`)
	enter(t, ctx)
	if lead := text(t, ctx, ".lead"); !strings.Contains(lead, "of age 5") {
		t.Fatalf("a number opens %q", lead)
	}
	tabTo(t, ctx, "/fish?label=")
	enter(t, ctx)
	if head := text(t, ctx, "h1"); head != "Fish "+codeOf(1) {
		t.Errorf("a fish beneath a number opens %q, want that of fish %s", head, codeOf(1))
	}
}

// TestRunIsWatchedAndStoppedByKeyboard: the page tells how a run goes without being asked
// for again, and stops it.
func TestRunIsWatchedAndStoppedByKeyboard(t *testing.T) {
	p := serving(t, "mara")
	at := p.run(t, p.visitor(t), slow, jobs.Running)
	ctx := pagetest.Browse(t)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(p.URL+at))
	pagetest.Ask[int](t, ctx, `window.stays = 1, document.querySelector("[data-progress] .lead").textContent = "old", 0`)
	comes(t, ctx, `window.stays === 1 && document.querySelector("[data-progress] .lead").textContent.startsWith("replicates: 320 of 1\u202f000")`, "the page looks again without being loaded anew")
	pagetest.Ask[int](t, ctx, `document.querySelector("[data-watch]").scrollIntoView(), 0`)
	for range 20 {
		keys(t, ctx, kb.Tab)
		if focus(t, ctx) == "Stop this run" {
			break
		}
	}
	enter(t, ctx)
	p.is(t, at, jobs.Stopped)
	comes(t, ctx, `document.body.textContent.includes("was stopped")`, "the page tells that the run was stopped")
}

// TestReportIsDrawnApart: the browser takes the report's style, and gives it nothing else.
func TestReportIsDrawnApart(t *testing.T) {
	p := serving(t, "mara")
	at := p.run(t, p.visitor(t), "7", jobs.Done)
	ctx := pagetest.Browse(t)
	pagetest.Do(t, ctx, chromedp.Navigate(p.URL+at))
	tabTo(t, ctx, "/report")
	enter(t, ctx)
	if colour := pagetest.Ask[string](t, ctx, `getComputedStyle(document.querySelector("h1")).color`); colour != "rgb(1, 2, 3)" {
		t.Errorf("the heading of the report is drawn in %s, want rgb(1, 2, 3) of its own style", colour)
	}
	if origin := pagetest.Ask[string](t, ctx, `self.origin`); origin != "null" {
		t.Errorf("the report belongs to %s, want nowhere", origin)
	}
}

// comes waits until an expression holds.
func comes(t *testing.T, ctx context.Context, expression, what string) {
	t.Helper()
	for limit := time.Now().Add(20 * time.Second); time.Now().Before(limit); time.Sleep(20 * time.Millisecond) {
		if there, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression)); err == nil && there {
			return
		}
	}
	t.Fatalf("20 seconds pass, and it does not come that %s", what)
}

// tabTo goes with the tabulator to the first link that leads to an address.
func tabTo(t *testing.T, ctx context.Context, to string) {
	t.Helper()
	for range 150 {
		keys(t, ctx, kb.Tab)
		if strings.Contains(pagetest.Ask[string](t, ctx, `document.activeElement.getAttribute("href") || ""`), to) {
			return
		}
	}
	t.Fatalf("150 steps of the tabulator do not come to %s", to)
}

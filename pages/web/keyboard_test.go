package web

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"earstone/pages/pagetest"
	"earstone/store/history"
)

// refused is what a browser says of a form that is refused, meant so.
const refused = "the server responded with a status of 4"

// keys types texts and keys one after another, as a person or a scanner does.
func keys(t *testing.T, ctx context.Context, typed ...string) {
	t.Helper()
	for _, one := range typed {
		pagetest.Do(t, ctx, chromedp.KeyEvent(one))
	}
}

// enter presses Enter and waits for the page that comes of it.
func enter(t *testing.T, ctx context.Context) {
	t.Helper()
	pagetest.Ask[int](t, ctx, `window.left = 1, 0`)
	keys(t, ctx, kb.Enter)
	arrived(t, ctx)
}

// focus is where the keyboard is. A browser puts it into the field that a page begins at
// a moment after the page is there.
func focus(t *testing.T, ctx context.Context) (at string) {
	t.Helper()
	for limit := time.Now().Add(2 * time.Second); time.Now().Before(limit); {
		if at = pagetest.Ask[string](t, ctx, `document.activeElement === document.body ? "" : document.activeElement.name || document.activeElement.textContent.trim().slice(0, 40)`); at != "" {
			return at
		}
	}
	return "nothing"
}

func text(t *testing.T, ctx context.Context, selector string) string {
	t.Helper()
	return pagetest.Ask[string](t, ctx, fmt.Sprintf(`(document.querySelector(%q) || {textContent: ""}).textContent.replace(/\s+/g, " ").trim()`, selector))
}

// TestCardsByKeyboard takes in three cards and a doubtful one with the keyboard alone.
func TestCardsByKeyboard(t *testing.T) {
	p := serving(t, "mara")
	ctx := pagetest.Browse(t, refused)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(p.URL+"/"))
	for i := 1; i <= 3; i++ {
		if at := focus(t, ctx); at != "fish" {
			t.Fatalf("the keyboard begins card %d at %q, want the label", i, at)
		}
		keys(t, ctx, codeOf(i), kb.Enter) // a scanner ends with Enter
		if at := focus(t, ctx); at != "length" {
			t.Fatalf("after a scan the keyboard is at %q, want the length", at)
		}
		keys(t, ctx, fmt.Sprint(200+i))
		if i == 1 {
			keys(t, ctx, kb.Tab, kb.Tab, kb.Tab, kb.ArrowRight, kb.Tab) // unit, kind, stones: left
			if at := focus(t, ctx); at != "caught_on" {
				t.Fatalf("the keyboard comes to %q, want the day of the catch", at)
			}
			keys(t, ctx, "2026-06-14", kb.Tab, "Skell")
		}
		enter(t, ctx)
		if said := text(t, ctx, ".said"); !strings.Contains(said, codeOf(i)) || !strings.Contains(said, fmt.Sprint(200+i)) {
			t.Fatalf("after card %d the page says %q", i, said)
		}
		if kept := p.count(t, history.Fish); kept != i {
			t.Fatalf("when the next card is shown %d are kept, want %d", kept, i)
		}
	}
	for i := 1; i <= 3; i++ {
		f := p.fields(t, codeOf(i))
		if f["area"] != "Skell" || f["caught_on"] != "2026-06-14" || f["length"] != fmt.Sprint(200+i) || f["length_unit"] != "cm" {
			t.Errorf("card %d is kept as %v", i, f)
		}
	}
	if stones := p.count(t, history.Stones); stones != 3 {
		t.Errorf("three vials with a left stone each make %d stones, want 3", stones)
	}
	keys(t, ctx, strings.ToLower(codeOf(4)), kb.Enter, "900")
	enter(t, ctx)
	if said := text(t, ctx, ".said.doubt"); !strings.Contains(said, "again") || focus(t, ctx) != "length" {
		t.Fatalf("of a fish of 900 cm the page says %q, with the keyboard at %q", said, focus(t, ctx))
	}
	enter(t, ctx)
	if f := p.fields(t, codeOf(4)); f["length"] != "900" {
		t.Errorf("a doubt that was confirmed is kept as %v", f)
	}
	keys(t, ctx, codeOf(4), kb.Enter, "2l4")
	enter(t, ctx)
	if said := text(t, ctx, "#wrong-length") + text(t, ctx, "#wrong-fish"); !strings.Contains(said, "214") || !strings.Contains(said, "already") {
		t.Errorf("of a label that is taken and a length of 2l4 the page says %q", said)
	}
}

// fields are what is kept of the fish that bears a label.
func (p *place) fields(t testing.TB, label string) history.Fields {
	t.Helper()
	found, err := p.store.Where(context.Background(), history.Query{Kind: history.Fish, Field: "fish", Value: label})
	if err != nil || len(found) != 1 {
		t.Fatalf("%d fish bear the label %s (%v), want 1", len(found), label, err)
	}
	return found[0].Fields()
}

// TestBenchByKeyboard weighs two vials, finds one by its label, and corrects it.
func TestBenchByKeyboard(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 5)
	ctx := pagetest.Browse(t, refused)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(p.URL+"/bench"))
	pagetest.Ask[int](t, ctx, `document.querySelector(".steps a[href='/bench/weighed']").focus(), 0`)
	enter(t, ctx)
	for i, mass := range []string{"41.2", "38,7"} {
		if at := focus(t, ctx); at != "fish" {
			t.Fatalf("the keyboard begins vial %d at %q, want the label", i, at)
		}
		keys(t, ctx, codeOf(i+1), kb.Enter, mass, kb.Tab, "40.1")
		if i == 0 {
			keys(t, ctx, kb.Tab, kb.Tab, "box 7")
		}
		enter(t, ctx)
		if said := text(t, ctx, ".said"); !strings.Contains(said, codeOf(i+1)) {
			t.Fatalf("after vial %d the page says %q", i, said)
		}
	}
	stones, err := p.store.Where(context.Background(), history.Query{Kind: history.Stones, Field: "fish", Value: codeOf(2)})
	if err != nil || len(stones) != 2 {
		t.Fatalf("fish 2 has %d stones (%v), want 2", len(stones), err)
	}
	left := stones[0]
	if f := left.Fields(); f["mass_mg"] != "38.7" || f["place"] != "box 7" || f["condition"] != "whole" || left.Heads[0].Raw["mass_mg"] != "38,7" {
		t.Errorf("the left stone is kept as %v, written %v; want 38.7 mg in box 7, written 38,7", f, left.Heads[0].Raw)
	}
	keys(t, ctx, "QB-99999-X", kb.Enter, "40")
	enter(t, ctx)
	if said := text(t, ctx, "#wrong-fish"); !strings.Contains(said, "No fish") || focus(t, ctx) != "fish" {
		t.Errorf("of a label of no fish the page says %q", said)
	}

	pagetest.Ask[int](t, ctx, `document.querySelector("#seek").focus(), 0`)
	keys(t, ctx, strings.ToLower(codeOf(2)))
	enter(t, ctx)
	if head := text(t, ctx, "h1"); head != "Fish "+codeOf(2) {
		t.Fatalf("a label in the box opens %q", head)
	}
	if trail := text(t, ctx, ".trail"); !strings.Contains(trail, "mass, mg 38.7") || !strings.Contains(trail, "written: 38,7") || !strings.Contains(trail, "Weighed, left") {
		t.Errorf("the history of the fish is %q", trail)
	}
	pagetest.Ask[int](t, ctx, `document.querySelector("main a[href$='/correct']").focus(), 0`)
	enter(t, ctx)
	pagetest.Ask[int](t, ctx, `document.querySelector("#f-length").select(), document.querySelector("#f-length").focus(), 0`)
	keys(t, ctx, "199")
	enter(t, ctx)
	if at := focus(t, ctx); at != "why" {
		t.Fatalf("a correction without a reason leads the keyboard to %q, want the reason", at)
	}
	keys(t, ctx, "misread the card")
	enter(t, ctx)
	if trail := text(t, ctx, ".trail"); !strings.Contains(trail, "Because: misread the card") || p.fields(t, codeOf(2))["length"] != "199" {
		t.Errorf("after the correction the fish is %v, its history %q", p.fields(t, codeOf(2)), trail)
	}
}

// TestTableByKeyboard pastes a table, mends it in place, and takes it whole.
func TestTableByKeyboard(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 2)
	ctx := pagetest.Browse(t, refused)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(p.URL+"/intake/table"))
	if at := focus(t, ctx); at != "sheet" {
		t.Fatalf("the keyboard begins at %q, want the text of the table", at)
	}
	pagetest.Do(t, ctx, chromedp.KeyEvent(fmt.Sprintf("label,length,length_unit,length_kind,skipper\n%s,214,cm,curved_fork,a\n%s,2l4,cm,curved_fork,b\n%s,188,cm,curved_fork,c", codeOf(901), codeOf(902), codeOf(1))))
	keys(t, ctx, kb.Tab, kb.Tab)
	enter(t, ctx)
	if said := text(t, ctx, ".said.grave"); !strings.Contains(said, "3 places") {
		t.Fatalf("of a table with an unknown column, a length of 2l4 and a label that is taken the page says %q", said)
	}
	if n := p.count(t, history.Fish); n != 2 {
		t.Fatalf("before all is mended %d fish are kept, want the 2 of before", n)
	}
	pagetest.Ask[int](t, ctx, `document.querySelector("select[name=h-4]").focus(), 0`)
	keys(t, ctx, "leave")
	pagetest.Ask[int](t, ctx, `document.querySelector("[name=c-1-1]").select(), document.querySelector("[name=c-1-1]").focus(), 0`)
	keys(t, ctx, "214.5")
	pagetest.Ask[int](t, ctx, `document.querySelector("[name=c-2-0]").select(), document.querySelector("[name=c-2-0]").focus(), 0`)
	keys(t, ctx, codeOf(903))
	enter(t, ctx)
	if n := p.count(t, history.Fish); n != 2 {
		t.Fatalf("checking again keeps %d fish, want the 2 of before", n)
	}
	pagetest.Ask[int](t, ctx, `document.querySelector("button[name=take]").focus(), 0`)
	enter(t, ctx)
	if said := text(t, ctx, ".said"); !strings.Contains(said, "3 cards") || p.count(t, history.Fish) != 5 {
		t.Errorf("after taking the table the page says %q, and %d fish are kept, want 5", said, p.count(t, history.Fish))
	}
	if f := p.fields(t, codeOf(902)); f["length"] != "214.5" {
		t.Errorf("the mended row is kept as %v", f)
	}
}

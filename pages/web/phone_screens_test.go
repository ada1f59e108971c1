package web

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"earstone/pages/pagetest"
	"earstone/programme/date"
)

// TestPhonePageCanBeUsedByEverybody holds the phone page against the guidelines in light and
// dark, and in a language that is written from right to left: its first sight, a card with
// mistakes, photographs, and a list with cards of every state.
func TestPhonePageCanBeUsedByEverybody(t *testing.T) {
	h := inHarbour(t)
	ctx := switchOn(t, t.TempDir())
	looks := func(name string, keeps bool) {
		t.Helper()
		for _, scheme := range []string{"light", "dark"} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(380, 800), pagetest.Prefers(scheme))
			h.judge(t, ctx, name+" "+scheme)
			if *update && keeps {
				pagetest.Do(t, ctx, chromedp.EmulateViewport(380, 1450))
				picture(t, ctx, map[string]string{"light": name, "dark": name + "-dark"}[scheme])
			}
		}
	}
	opened(t, ctx, h.page())
	looks("phone-kit", true)
	withKit(t, ctx, "ABC-DEF-GHX")
	appears(t, ctx, "refusing a wrong code", `!document.querySelector("#code-wrong").hidden`)
	looks("phone-kit-wrong", false)
	withKit(t, ctx, h.code(0))
	appears(t, ctx, "taking the kit", `document.querySelector("#kit-line").innerText.includes("K-0001")`)
	for i, label := range []string{codeOf(1), codeOf(2)} {
		enterCard(t, ctx, label, "188")
		appears(t, ctx, "sending a card", lines("kept")+" === "+string(rune('1'+i)))
	}
	cancelled := h.kits[0]
	h.kits[0].CancelledOn = date.On(2025, 7, 1)
	enterCard(t, ctx, codeOf(3), "201,5")
	appears(t, ctx, "refusing a card", lines("refused")+" === 1")
	h.kits[0] = cancelled
	h.cut()
	for i, label := range []string{codeOf(4), codeOf(5)} {
		enterCard(t, ctx, label, "176")
		appears(t, ctx, "keeping a card", lines("waits")+" === "+string(rune('1'+i)))
	}
	appears(t, ctx, "telling that there is no network", `document.querySelector("#net").className === "off"`)
	pagetest.Ask[int](t, ctx, `scrollTo(0, 0), 0`)
	looks("phone-list", true)
	enterCard(t, ctx, "QB-00l06-X", "2l4")
	pagetest.Ask[int](t, ctx, `document.querySelector("#card details").open = true, 0`)
	looks("phone-wrong", true)
	for _, language := range []string{"ar", "ja", "fr"} {
		pagetest.Ask[int](t, ctx, `document.querySelector("#language").value = "`+language+`", document.querySelector("#language").dispatchEvent(new Event("change")), 0`)
		appears(t, ctx, "changing the language", `document.documentElement.lang === "`+language+`"`)
		enterCard(t, ctx, "QB-00l06-X", "2l4") // its mistakes are told in the language
		looks("phone-"+language, language == "ar")
	}
}

// photographed gives a file to one of the two buttons of photographs.
func photographed(t *testing.T, ctx context.Context, of, file string) {
	t.Helper()
	pagetest.Do(t, ctx, chromedp.SetUploadFiles(chromedp.CSS("#photo-"+of), []string{file}))
	appears(t, ctx, "taking a photograph", `document.querySelector("#photo-`+of+`").closest(".photo").classList.contains("taken")`)
}

// TestPhotographsAreMadeSmallAndArrive: a picture of a phone's camera is 2,000 pixels wide
// when it is sent, and waits with its card.
func TestPhotographsAreMadeSmallAndArrive(t *testing.T) {
	h := inHarbour(t)
	ctx := switchOn(t, t.TempDir())
	file := filepath.Join(t.TempDir(), "card.jpg")
	if err := os.WriteFile(file, snapshot(t, 3200, 2400), 0o644); err != nil {
		t.Fatal(err)
	}
	opened(t, ctx, h.page())
	withKit(t, ctx, h.code(0))
	appears(t, ctx, "taking the kit", `document.querySelector("#kit-line").innerText.includes("K-0001")`)
	h.cut()
	photographed(t, ctx, "card", file)
	photographed(t, ctx, "tape", file)
	if *update {
		pagetest.Do(t, ctx, chromedp.EmulateViewport(380, 1350))
		picture(t, ctx, "phone-card")
	}
	enterCard(t, ctx, codeOf(9), "214")
	appears(t, ctx, "keeping the card", lines("waits")+" === 1")
	h.connect(t)
	appears(t, ctx, "sending the card with its photographs", lines("kept")+" === 1")
	hashes, err := h.folder.Hashes()
	if err != nil || len(hashes) == 0 {
		t.Fatalf("%d pictures lie in the folder (%v)", len(hashes), err)
	}
	for _, one := range hashes {
		p, err := h.folder.Picture(one)
		if err != nil || p.Width != 2000 || p.Height != 1500 || p.Format != "jpeg" {
			t.Errorf("a photograph of 3200 × 2400 is kept as %d × %d %s (%v), want 2000 × 1500 jpeg", p.Width, p.Height, p.Format, err)
		}
	}
	left, err := chromedp.Run(ctx, chromedp.Evaluate[int](`new Promise((done) => { indexedDB.open("earstone-phone").onsuccess = (e) => {
		e.target.result.transaction("photographs").objectStore("photographs").count().onsuccess = (n) => done(n.target.result); }; })`, chromedp.EvalAwaitPromise))
	if err != nil || left != 0 {
		t.Errorf("%d photographs are still on the phone after the server kept them (%v)", left, err)
	}
}

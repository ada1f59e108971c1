package web

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"earstone/pages/pagetest"
	"earstone/store/accounts"
	"earstone/store/history"
)

// update writes the pictures of the pages anew, for docs/screens.
var update = flag.Bool("update", false, "write docs/screens anew")

//go:embed testdata/axe.min.js
var axe string

// violation is what axe finds against the accessibility guidelines, WCAG 2.2 level AA.
type violation struct {
	ID, Help string
	Targets  []string
}

const runAxe = `axe.run({runOnly:['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']})
	.then(r => r.violations.map(v => ({ID: v.id, Help: v.help, Targets: v.nodes.map(n => n.target.join(' '))})))`

// scene is a page in a state worth looking at.
type scene struct {
	name string
	open func(t *testing.T, ctx context.Context, at string)
}

func at(path string) func(*testing.T, context.Context, string) {
	return func(t *testing.T, ctx context.Context, base string) {
		pagetest.Do(t, ctx, chromedp.Navigate(base+path))
	}
}

// sent fills fields of a page by name and sends its card.
func sent(path string, fields map[string]string) func(*testing.T, context.Context, string) {
	return func(t *testing.T, ctx context.Context, base string) {
		pagetest.Do(t, ctx, chromedp.Navigate(base+path))
		for _, name := range slices.Sorted(maps.Keys(fields)) {
			pagetest.Ask[int](t, ctx, fmt.Sprintf(`document.querySelector("form.card [name=%s]").value = %q, 0`, name, fields[name]))
		}
		submit(t, ctx)
	}
}

// submit sends the card of a page and waits for the answer.
func submit(t *testing.T, ctx context.Context) {
	t.Helper()
	pagetest.Ask[int](t, ctx, `window.left = 1, document.querySelector("form.card").requestSubmit(), 0`)
	arrived(t, ctx)
}

// arrived waits until another page than the one that set window.left is there whole.
func arrived(t *testing.T, ctx context.Context) {
	t.Helper()
	for limit := time.Now().Add(20 * time.Second); time.Now().Before(limit); {
		there, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`window.left === undefined && document.readyState === "complete"`))
		if err == nil && there { // between two pages there is none to ask
			return
		}
	}
	t.Fatal("the next page does not come within 20 seconds")
}

const pasted = "label,length,unit,length_kind,date,area\n%s,214,cm,curved_fork,2025-06-14,Skell\n%s,2l4,cm,curved_fork,14.6.2025,Skel\n%s,188.5,cm,straight_fork,2025-06,Quarrow\n"

func scenes(p *place, t *testing.T) []scene {
	fish := p.fish(t, codeOf(20))
	return []scene{
		{"intake", at("/intake")},
		{"intake-wrong", sent("/intake", map[string]string{"fish": "QB-00l05-X", "length": "2l4", "caught_on": "15.6.2025", "area": "Skel"})},
		{"table", at("/intake/table")},
		{"table-wrong", sent("/intake/table", map[string]string{"sheet": fmt.Sprintf(pasted, codeOf(901), codeOf(902), codeOf(20))})},
		{"fish", at("/fish/" + fish)},
		{"correct", at("/fish/" + fish + "/correct")},
		{"find", at("/find?q=skell")},
		{"bench", at("/bench")},
		{"weighed", at("/bench/weighed")},
		{"placed-wrong", sent("/bench/placed", map[string]string{"fish": "QB-1"})},
		{"people", at("/people")},
		{"trouble", at("/fish/none")},
	}
}

// furnished is a programme in which every page has something to show.
func furnished(t *testing.T, solo string) *place {
	p := serving(t, solo)
	p.season(t, 60)
	v := p.visitor(t)
	code := codeOf(20)
	id := p.fish(t, code)
	for path, form := range map[string]url.Values{
		"/bench/weighed":           {"fish": {code}, "mass_L": {"41,2"}, "mass_R": {"40.9"}, "place": {"box 3, row B"}},
		"/bench/chosen":            {"fish": {code}, "sides": {"R"}, "purpose": {"chemistry"}},
		"/fish/" + id + "/correct": {"head": p.heads(t, id), "why": {"the card says 201, the tape was read upside down"}, "fish": {code}, "species": {"BFT"}, "length": {"201"}, "length_unit": {"cm"}, "length_kind": {"curved_fork"}, "area": {"Dunmarrow"}, "caught_on": {"2025-05-21"}, "received_on": {"2025-05-25"}, "contributor": {"C-031"}},
	} {
		if status, body, _ := v.send(path, form); solo != "" && status != 303 {
			t.Fatalf("furnishing by %s is answered with %d: %s", path, status, problems(body))
		}
	}
	p.keep(t, &history.Entry{Kind: history.Assays, Fields: history.Fields{"fish": code, "side": "R", "tracer": "d18O", "value": "-1.42", "unit": "permil", "scale": "VPDB", "run": "A-7", "region": "core"}})
	return p
}

// TestPagesCanBeUsedByEverybody: no violation of the guidelines on any page, in light, in
// dark and on a narrow screen; nothing overflows to the side; no page writes to the console.
func TestPagesCanBeUsedByEverybody(t *testing.T) {
	p := furnished(t, "mara")
	ctx := pagetest.Browse(t, refused)
	all := scenes(p, t)
	for _, s := range all {
		pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), pagetest.Prefers("light"))
		s.open(t, ctx, p.URL)
		for _, look := range []struct {
			suffix, scheme string
			width          int64
		}{{"", "light", 1200}, {"-dark", "dark", 1200}, {"-380", "light", 380}} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(look.width, 900), pagetest.Prefers(look.scheme))
			p.judge(t, ctx, s.name+look.suffix)
			if *update && (look.suffix == "" || s.name == "intake" || s.name == "fish") {
				picture(t, ctx, s.name+look.suffix)
			}
		}
	}
	p.account(t, "mara", accounts.Administrator)
	for _, path := range []string{"/sign-in", "/"} {
		pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), pagetest.Prefers("light"), chromedp.Navigate(p.URL+path))
		p.judge(t, ctx, "signing in by "+path)
	}
	if *update {
		picture(t, ctx, "sign-in")
	}
}

// judge holds the page at hand against the guidelines.
func (p *place) judge(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if !pagetest.Ask[bool](t, ctx, `"axe" in window`) {
		pagetest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](axe))
	}
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]violation](runAxe, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("judging %s: %v", name, err)
	}
	for _, v := range found {
		t.Errorf("%s: %s (%s) at %s", name, v.Help, v.ID, strings.Join(v.Targets, "; "))
	}
	if over := pagetest.Ask[int](t, ctx, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
		t.Errorf("%s is %d px wider than its window: %s", name, over, pagetest.Ask[string](t, ctx, widest))
	}
	if bad := pagetest.Ask[[]string](t, ctx, smallTargets); len(bad) > 0 {
		t.Errorf("%s: too small to be hit: %s", name, strings.Join(bad, "; "))
	}
}

// widest is what reaches farthest to the right.
const widest = `[...document.querySelectorAll("body *")].filter(e => !e.closest(".scroll")).sort((a, b) => b.getBoundingClientRect().right - a.getBoundingClientRect().right)[0].outerHTML.slice(0, 200)`

// smallTargets are what can be clicked outside running text and is under 24 px.
const smallTargets = `[...document.querySelectorAll("button, select, input:not([type=hidden]), .band a, .beside a, summary")].filter(e => e.checkVisibility())
	.filter(e => { const b = (e.closest("label") || e).getBoundingClientRect(); return b.height < 24 || b.width < 24 }).map(e => e.outerHTML.slice(0, 80))`

// largest is how many bytes a picture for the documents may have.
const largest = 120 << 10

// picture keeps the page at hand as docs/screens/NAME.png, in as few colours as it needs.
func picture(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	whole, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	var small bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&small, inFewColours(whole)); err != nil {
		t.Fatal(err)
	}
	if small.Len() > largest {
		t.Errorf("the picture of %s has %d bytes, more than %d", name, small.Len(), largest)
	}
	if err := os.WriteFile(filepath.Join("..", "..", "docs", "screens", name+".png"), small.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// inFewColours draws the upper part of a picture in the 96 colours that it uses most.
func inFewColours(from image.Image) *image.Paletted {
	count := map[color.RGBA]int{}
	b := from.Bounds()
	b.Max.Y = min(b.Max.Y, b.Min.Y+1600)
	of := func(x, y int) color.RGBA { return color.RGBAModel.Convert(from.At(x, y)).(color.RGBA) }
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			count[of(x, y)]++
		}
	}
	used := slices.SortedFunc(maps.Keys(count), func(a, b color.RGBA) int {
		return cmp.Or(count[b]-count[a], cmp.Compare(fmt.Sprint(a), fmt.Sprint(b)))
	})
	var palette color.Palette
	for _, c := range used[:min(96, len(used))] {
		palette = append(palette, c)
	}
	nearest := map[color.RGBA]uint8{}
	to := image.NewPaletted(b, palette)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := of(x, y)
			at, known := nearest[c]
			if !known {
				at = uint8(palette.Index(c))
				nearest[c] = at
			}
			to.SetColorIndex(x, y, at)
		}
	}
	return to
}

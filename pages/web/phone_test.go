package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/remote"

	"earstone/pages/pagetest"
	"earstone/programme/date"
	"earstone/programme/label"
	"earstone/store/history"
	"earstone/store/pictures"
)

// harbour is a served programme with kits, whose server can be cut off and come back under
// the same address.
type harbour struct {
	*place
	handler http.Handler
	kits    []label.Kit
	at      string
	server  *http.Server
	lose    atomic.Int32 // answers to cards that are still to be lost on their way
	taken   atomic.Int32 // sendings of cards that came
	folder  *pictures.Folder
}

func kitOf(name, contributor string, first, last int) label.Kit {
	a, _ := label.New("QB", first)
	b, _ := label.New("QB", last)
	return label.Kit{Kit: name, Contributor: contributor, Codes: label.Range{First: a, Last: b}, PhoneCode: label.NewKitCode(rand.IntN)}
}

func inHarbour(t *testing.T) *harbour {
	t.Helper()
	h := &harbour{place: serving(t, ""), at: "127.0.0.1:0"}
	h.kits = []label.Kit{kitOf("K-0001", "C-014", 1, 40), kitOf("K-0002", "C-022", 41, 80), kitOf("K-0003", "C-014", 81, 120), kitOf("K-0004", "", 121, 140)}
	h.kits[2].CancelledOn = date.On(2025, 3, 1)
	h.kits[3].PhoneCode = label.KitCode{}
	var err error
	if h.folder, err = pictures.Open(t.TempDir()); err != nil {
		t.Fatal(err)
	}
	site := Site{Store: h.store, Accounts: h.register, Programme: "Quarrow Banks ear-stone programme", Now: time.Now,
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Pictures: h.folder, Kits: func() ([]label.Kit, error) { return h.kits, nil }}
	if h.handler, err = New(context.Background(), site); err != nil {
		t.Fatal(err)
	}
	h.connect(t)
	t.Cleanup(h.cut)
	return h
}

// connect begins to answer, under the address of before.
func (h *harbour) connect(t *testing.T) {
	t.Helper()
	listener, err := net.Listen("tcp", h.at)
	if err != nil {
		t.Fatal(err)
	}
	h.at = listener.Addr().String()
	h.URL = "http://" + h.at
	h.server = &http.Server{Handler: http.HandlerFunc(h.answer), ReadHeaderTimeout: time.Second}
	go func() { _ = h.server.Serve(listener) }()
}

// answer loses some answers on their way, after what was asked is done.
func (h *harbour) answer(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path == "/phone/cards" {
		h.taken.Add(1)
		if h.lose.Add(-1) >= 0 {
			h.handler.ServeHTTP(nowhere{http.Header{}}, r)
			panic(http.ErrAbortHandler)
		}
	}
	h.handler.ServeHTTP(w, r)
}

type nowhere struct{ h http.Header }

func (n nowhere) Header() http.Header         { return n.h }
func (n nowhere) Write(b []byte) (int, error) { return len(b), nil }
func (n nowhere) WriteHeader(int)             {}

// cut ends every connection and answers no more.
func (h *harbour) cut() { _ = h.server.Close() }

func (h *harbour) page() string { return "http://" + h.at + "/phone/" }

// handset is a browser with a profile of its own that outlives its process.
type handset struct {
	context.Context
	process *exec.Cmd
}

func switchOn(t *testing.T, profile string) *handset {
	t.Helper()
	port := filepath.Join(profile, "DevToolsActivePort")
	_ = os.Remove(port)
	p := &handset{process: exec.Command(pagetest.Path(t), "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-quic", "--disable-component-update",
		"--remote-debugging-port=0", "--user-data-dir="+profile, "--disable-background-networking", "about:blank")}
	ownGroup(p.process)
	if err := p.process.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.kill)
	at := ""
	for limit := time.Now().Add(30 * time.Second); time.Now().Before(limit) && at == ""; time.Sleep(20 * time.Millisecond) {
		if text, err := os.ReadFile(port); err == nil && strings.Count(string(text), "\n") == 1 {
			lines := strings.Split(string(text), "\n")
			at = "ws://127.0.0.1:" + lines[0] + lines[1]
		}
	}
	if at == "" {
		t.Fatal("the browser tells no port within 30 seconds")
	}
	allocator, closeAll := remote.NewAllocator(context.Background(), at)
	t.Cleanup(closeAll)
	tab, closeTab := chromedp.NewContext(allocator)
	t.Cleanup(closeTab)
	limited, cancel := context.WithTimeout(tab, 3*time.Minute)
	t.Cleanup(cancel)
	p.Context = limited
	pagetest.Do(t, p, chromedp.EmulateViewport(380, 800))
	return p
}

// kill ends the browser at once, as when a battery is taken out.
func (p *handset) kill() {
	if p.process.ProcessState == nil {
		killGroup(p.process)
		_ = p.process.Wait()
	}
}

// appears waits until an expression is true of the page at hand.
func appears(t *testing.T, ctx context.Context, what, expression string) {
	t.Helper()
	for limit := time.Now().Add(40 * time.Second); time.Now().Before(limit); time.Sleep(50 * time.Millisecond) {
		if is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression)); err == nil && is {
			return
		}
	}
	t.Fatalf("%s: it does not come within 40 seconds; the page says %s", what, pagetest.Ask[string](t, ctx, `document.body.innerText`))
}

const ready = `document.documentElement.dataset.ready === "yes"`

// opened opens the page and waits until it can be used.
func opened(t *testing.T, ctx context.Context, at string) {
	t.Helper()
	_ = chromedp.Do(ctx, chromedp.Navigate(at))
	appears(t, ctx, "opening the page", ready)
}

// withKit types the code of a kit.
func withKit(t *testing.T, ctx context.Context, code string) {
	t.Helper()
	pagetest.Ask[int](t, ctx, fmt.Sprintf(`document.querySelector("#code").value = %q, document.querySelector("#kit").requestSubmit(), 0`, code))
}

// enterCard fills the card and presses the button; it does not wait.
func enterCard(t *testing.T, ctx context.Context, label, length string) {
	t.Helper()
	pagetest.Ask[int](t, ctx, fmt.Sprintf(`document.querySelector("#fish").value = %q, document.querySelector("#length").value = %q, document.querySelector("#area").value = "Skell", document.querySelector("#card").requestSubmit(), 0`, label, length))
}

// lines are how many cards stand in the list in a state.
func lines(state string) string {
	return fmt.Sprintf(`document.querySelectorAll("#cards li.%s").length`, state)
}

// TestCardsOutliveAKilledBrowser: with the network cut, 20 cards are entered; the browser is
// killed; it is opened again, still without network; the network comes back, and two answers
// are lost on their way. All 20 cards are in the store, exactly once.
func TestCardsOutliveAKilledBrowser(t *testing.T) {
	h := inHarbour(t)
	profile := t.TempDir()
	first := switchOn(t, profile)
	opened(t, first, h.page())
	withKit(t, first, strings.ToLower(h.kits[0].PhoneCode.String()))
	appears(t, first, "taking the kit", `!document.querySelector("#card").hidden && document.querySelector("#kit-line").innerText.includes("K-0001")`)
	appears(t, first, "keeping the page", `navigator.serviceWorker.controller !== null`)

	h.cut()
	opened(t, first, h.page()) // from the phone itself
	for i := 1; i <= 20; i++ {
		typed := codeOf(i)
		if i%2 == 0 { // typed as people do
			typed = strings.ToLower(strings.ReplaceAll(typed, "-", " "))
		}
		enterCard(t, first, typed, fmt.Sprintf("%d,5", 150+i))
		appears(t, first, "keeping card "+codeOf(i), fmt.Sprintf(`document.querySelectorAll("#cards li.waits").length === %d && document.querySelector("#told").innerText.includes(%q)`, i, codeOf(i)))
	}
	first.kill()
	if n := h.count(t, history.Fish); n != 0 {
		t.Fatalf("with the network cut %d cards arrived", n)
	}

	second := switchOn(t, profile)
	opened(t, second, h.page())
	appears(t, second, "finding the 20 cards again", lines("waits")+" === 20")
	h.lose.Store(2)
	h.connect(t)
	appears(t, second, "sending the 20 cards", lines("kept")+" === 20")
	if h.taken.Load() < 4 {
		t.Errorf("cards came in %d sendings, too few for two of them to have been lost", h.taken.Load())
	}
	if n := h.count(t, history.Fish); n != 20 {
		t.Errorf("%d fish are in the store, want 20", n)
	}
	if n := h.count(t, history.Stones); n != 40 {
		t.Errorf("%d stones are in the store, want 40", n)
	}
	for i := 1; i <= 20; i++ {
		f := h.fields(t, codeOf(i))
		if f["length"] != fmt.Sprintf("%d.5", 150+i) || f["area"] != "Skell" || f["contributor"] != "C-014" || f["species"] != "BFT" {
			t.Errorf("card %d is kept as %v", i, f)
		}
	}
	opened(t, second, h.page())
	appears(t, second, "showing them as kept", lines("kept")+" === 20")
	if n := h.count(t, history.Fish); n != 20 {
		t.Errorf("opening the page once more makes %d fish of 20", n)
	}
}

// TestPhoneReadsLabelsAsWeDo holds the script's reading of labels against that of package
// label: codes of every prefix length, with slips, look-alikes and marks of all kinds.
func TestPhoneReadsLabelsAsWeDo(t *testing.T) {
	h := inHarbour(t)
	ctx := pagetest.Browse(t, refused)
	opened(t, ctx, h.page())
	const seed = 20260814
	r := rand.New(rand.NewPCG(seed, 1))
	texts := []string{"", " ", "-", "QB", "QB-0-A", "QB-00000-A", "ß-1-A", "QB-00412-é", "ＱＢ－００４１２－Ｔ", "QB-٠٠٤١٢-T", "qb۰۰۴۱۲t", "QB\u200d-00412\u00a0T", "\ufeffQB-00412-T", "QB−00412·T", "QB-99999999-T", "QBQBQ-00412-T", "Q-00412-T", "ŉB-00412-T", "İB-00412-T", "QB-00412-\u0085T", "a\x00b", "😀", "QB-00412-T\u2028", "QB.412.T", "DŽ-00412-T"}
	noise := []rune("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-- _./·−–\u00ad\u3000１٣ßøb8oOl")
	for range 4000 {
		prefix := make([]byte, 2+r.IntN(3))
		for i := range prefix {
			prefix[i] = label.Letters[r.IntN(len(label.Letters))]
		}
		most := []int{9, 999, 99_999, label.LargestNumber}[r.IntN(4)]
		code, _ := label.New(string(prefix), 1+r.IntN(most))
		text := []rune(code.String())
		for range r.IntN(3) {
			switch at := r.IntN(len(text)); r.IntN(4) {
			case 0:
				text[at] = noise[r.IntN(len(noise))]
			case 1:
				text = append(text[:at], text[at+1:]...)
			case 2:
				text = append(text[:at], append([]rune{noise[r.IntN(len(noise))]}, text[at:]...)...)
			default:
				if at > 0 {
					text[at-1], text[at] = text[at], text[at-1]
				}
			}
		}
		if r.IntN(5) == 0 {
			texts = append(texts, strings.ToLower(string(text)))
		}
		texts = append(texts, string(text))
	}
	for range 300 {
		texts = append(texts, label.NewKitCode(r.IntN).String())
	}
	type reading struct {
		Code, Remark, Sign, As, Kit string
		Near                        []string
	}
	asked, err := json.Marshal(texts)
	if err != nil {
		t.Fatal(err)
	}
	got, err := chromedp.Run(ctx, chromedp.Evaluate[[]reading](`import("./label.js").then((l) => `+string(asked)+`.map((text) => { const r = l.parse(text);
		return {Code: r.code?.text ?? "", Remark: r.remark, Sign: r.sign ?? "", As: r.as ?? "", Near: r.near ?? [], Kit: l.parseKit(text)}; }))`, chromedp.EvalAwaitPromise))
	if err != nil || len(got) != len(texts) {
		t.Fatalf("reading %d labels gives %d (%v)", len(texts), len(got), err)
	}
	wrong := 0
	for i, text := range texts {
		want := label.Parse(text)
		kit, _ := label.ParseKitCode(text)
		var near []string
		for _, c := range want.Near {
			near = append(near, c.String())
		}
		w := reading{want.Code.String(), want.Remark.String(), want.Sign, want.As, kit.String(), near}
		if fmt.Sprint(w) != fmt.Sprint(got[i]) {
			if wrong++; wrong < 20 {
				t.Errorf("%q (seed %d) is read by the phone as %+v, by us as %+v", text, uint64(seed), got[i], w)
			}
		}
	}
}

// snapshot is a JPEG of some size.
func snapshot(t testing.TB, width, height int) []byte {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			picture.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(x * y), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

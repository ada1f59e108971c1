package web

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"earstone/pages/pagetest"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/pictures"
	"earstone/store/sqlite"
)

// servedFolder names, to a second process of this test, the programme that it serves until it is
// killed.
const servedFolder = "EARSTONE_TEST_SERVES"

// TestServesUntilKilled is no test by itself: it is the server that TestSittingByKeyboard
// kills.
func TestServesUntilKilled(t *testing.T) {
	dir := os.Getenv(servedFolder)
	if dir == "" {
		t.Skip("This serves a programme to TestSittingByKeyboard, which starts it by itself.")
	}
	ctx := context.Background()
	store, err := sqlite.Open(ctx, dir)
	must0(t, err)
	db, err := sqlite.Database(filepath.Join(dir, "accounts.sqlite"))
	must0(t, err)
	register, err := accounts.Open(ctx, db, time.Now)
	must0(t, err)
	folder, err := pictures.Open(filepath.Join(dir, sqlite.Pictures))
	must0(t, err)
	handler, err := New(ctx, Site{Store: store, Accounts: register, Pictures: folder, Programme: "Quarrow", Now: time.Now,
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Solo: "mara"})
	must0(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	must0(t, err)
	fmt.Printf("open at http://%s\n", listener.Addr())
	t.Fatal(http.Serve(listener, handler))
}

// apart serves a programme in a process of its own and gives its address and its end.
func apart(t *testing.T, dir string) (at string, kill func()) {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^TestServesUntilKilled$", "-test.timeout=5m")
	c.Env = append(os.Environ(), servedFolder+"="+dir)
	out, err := c.StdoutPipe()
	must0(t, err)
	must0(t, c.Start())
	ended := false
	kill = func() {
		if !ended {
			ended = true
			_ = c.Process.Kill() // SIGKILL: nothing of it ends in order
			_ = c.Wait()
		}
	}
	t.Cleanup(kill)
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if at, found := strings.CutPrefix(lines.Text(), "open at "); found {
			return at, kill
		}
	}
	t.Fatal("the second process serves nothing")
	return "", kill
}

// until waits until an expression holds on the page.
func until(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	for limit := time.Now().Add(20 * time.Second); time.Now().Before(limit); time.Sleep(10 * time.Millisecond) {
		if pagetest.Ask[bool](t, ctx, expression) {
			return
		}
	}
	t.Fatalf("%s does not come to hold within 20 seconds; the page says %q", expression, text(t, ctx, "#viewer-says"))
}

const (
	isKept  = `document.querySelector("[data-kept]").textContent === "kept"`
	axisSet = `document.querySelector("#viewer-says").textContent.startsWith("The axis is set")`
)

// times presses a key so many times.
func times(t *testing.T, ctx context.Context, n int, key string) {
	t.Helper()
	for range n {
		keys(t, ctx, key)
	}
}

// axis sets an axis across the picture with the keyboard.
func axis(t *testing.T, ctx context.Context) {
	t.Helper()
	until(t, ctx, `document.activeElement.className === "plate"`)
	times(t, ctx, 20, kb.ArrowLeft)
	keys(t, ctx, kb.Enter)
	times(t, ctx, 20, kb.ArrowRight)
	keys(t, ctx, kb.ArrowUp, kb.Enter)
	times(t, ctx, 18, kb.ArrowRight)
	keys(t, ctx, "f")
	until(t, ctx, axisSet)
}

// TestSittingByKeyboard reads ten pictures with the keyboard alone. Half way the server is
// killed between two marks: all that was marked is there when the sitting goes on.
func TestSittingByKeyboard(t *testing.T) {
	const turns, breaks = 10, 4
	p := serving(t, "mara")
	p.sections(t, turns, here)
	p.sitting(t, "S-test", "mara", turns, true)
	p.Close()
	must0(t, p.store.Close())
	at, kill := apart(t, p.dir)
	ctx := pagetest.Browse(t, "the server responded with a status of 4", "ERR_CONNECTION_REFUSED")
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 1000), chromedp.Navigate(at+"/read/S-test"))
	for turn := 1; turn <= turns; turn++ {
		if head := text(t, ctx, "h1"); head != fmt.Sprintf("Section %d of %d", turn, turns) {
			t.Fatalf("turn %d is headed %q", turn, head)
		}
		axis(t, ctx)
		for mark := 1; mark <= 3; mark++ {
			times(t, ctx, 1, kb.ArrowDown)
			times(t, ctx, 2*mark, kb.ArrowRight)
			keys(t, ctx, " ")
			if turn == breaks && mark == 2 {
				until(t, ctx, isKept)
				kill()
				at, kill = apart(t, p.dir)
				pagetest.Do(t, ctx, chromedp.Navigate(at+"/read/S-test"))
				if head := text(t, ctx, "h1"); head != fmt.Sprintf("Section %d of %d", turn, turns) {
					t.Fatalf("after the server was killed the sitting goes on at %q", head)
				}
				until(t, ctx, axisSet)
				if said := text(t, ctx, "#viewer-says"); !strings.Contains(said, "2 annuli") && !strings.Contains(said, "suggested") {
					t.Errorf("after the server was killed the page says %q, want 2 annuli", said)
				}
				times(t, ctx, 2, kb.ArrowDown) // the cross begins at the core again
				times(t, ctx, 12, kb.ArrowRight)
			}
			until(t, ctx, fmt.Sprintf(`document.querySelector("[name=annuli]").value === "%d"`, mark))
		}
		keys(t, ctx, "p", "4")
		until(t, ctx, isKept)
		keys(t, ctx, kb.Tab, kb.Tab)
		if at := focus(t, ctx); at != "annuli" {
			t.Fatalf("two steps behind the picture the keyboard is at %q, want the count", at)
		}
		enter(t, ctx)
	}
	if head := text(t, ctx, "h1"); head != "All are read" {
		t.Errorf("after the last turn the page is headed %q", head)
	}
	kill()
	p.holdsSitting(t, turns)
}

// holdsSitting opens the records again and counts what the sitting left.
func (p *place) holdsSitting(t *testing.T, turns int) {
	t.Helper()
	store, err := sqlite.Open(context.Background(), p.dir)
	must0(t, err)
	defer store.Close()
	p.store = store
	readings := p.where(t, history.Readings, "session", "S-test")
	if len(readings) != turns {
		t.Errorf("a sitting of %d turns left %d readings", turns, len(readings))
	}
	for _, r := range readings {
		f := r.Fields()
		if f["annuli"] != "3" || f["edge"] != "partial" || f["readability"] != "4" {
			t.Errorf("a reading of 3 annuli, partial, 4 is kept as %v", f)
		}
		last := ""
		marks := p.where(t, history.Marks, "reading", f["reading"])
		for _, m := range marks {
			last = m.Fields()["kind"]
		}
		if len(marks) != 5 || last != "edge" || marks[1].Fields()["distance_um"] == "" {
			t.Errorf("of 3 annuli with core and edge %d marks are kept, the last of them %q", len(marks), last)
		}
	}
	proof, err := store.Verify(context.Background(), nil)
	if err != nil || len(proof.Damage) > 0 {
		t.Errorf("after the kill the records are damaged: %v (%v)", proof.Damage, err)
	}
}

// TestSuggestionsAreTakenOrRefusedOneByOne: each is taken or refused by a key; what is taken
// becomes a mark, what is refused does not come back, and both are kept.
func TestSuggestionsAreTakenOrRefusedOneByOne(t *testing.T) {
	p := serving(t, "mara")
	drawn := p.sections(t, 8, here)
	s := p.sitting(t, "S-test", "mara", 8, true)
	v := p.visitor(t)
	ctx := pagetest.Browse(t, refused)
	pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 1000))
	for i := range s.Turns {
		s := s
		s.Turns = s.Turns[i:]
		ticket, work := drawnAt(t, s, drawn)
		at := "/read/S-test/" + ticket
		v.send(at+"/work", url.Values{"work": {strings.Replace(work, `"marks":`, `"unmarked":`, 1)}})
		pagetest.Do(t, ctx, chromedp.Navigate(p.URL+at))
		until(t, ctx, axisSet)
		if !strings.Contains(text(t, ctx, "#viewer-says"), "suggested") {
			v.send(at, url.Values{"do": {"aside"}})
			continue
		}
		var n int
		if _, err := fmt.Sscanf(text(t, ctx, "#viewer-says"), "The axis is set. %d suggested.", &n); err != nil || n < 2 {
			t.Fatalf("the page says %q, want two suggestions or more", text(t, ctx, "#viewer-says"))
		}
		keys(t, ctx, "y", "x")
		until(t, ctx, isKept)
		if said := text(t, ctx, "#viewer-says"); said != fmt.Sprintf("Refused: 1 annulus, %d suggested still.", n-2) {
			t.Errorf("after one was taken and one refused of %d the page says %q", n, said)
		}
		pagetest.Do(t, ctx, chromedp.Navigate(p.URL+at))
		until(t, ctx, axisSet)
		if count := pagetest.Ask[string](t, ctx, `document.querySelector("[name=annuli]").value`); count != "1" {
			t.Errorf("when the turn is opened again %q annuli are counted, want 1", count)
		}
		if said := text(t, ctx, "#viewer-says"); n > 2 && said != fmt.Sprintf("The axis is set. %d suggested.", n-2) {
			t.Errorf("when the turn is opened again the page says %q, want %d suggested", said, n-2)
		}
		return
	}
	t.Error("no turn of the sitting suggests anything")
}

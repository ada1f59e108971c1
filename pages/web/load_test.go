package web

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"earstone/programme/label"
	"earstone/store/history"
)

// TestLoad is run by make load: EARSTONE_LOAD is the number of fish in the store. Twenty
// people take in cards at once, each a card about every three seconds, which is ten times
// as fast as anybody does; the slowest of a hundred answers stays under 50 ms.
func TestLoad(t *testing.T) {
	fish, err := strconv.Atoi(os.Getenv("EARSTONE_LOAD"))
	if err != nil {
		t.Skip("EARSTONE_LOAD is the number of fish to type beside: make load sets it.")
	}
	const people, each = 20, 20
	p := serving(t, "mara")
	begun := time.Now()
	p.many(t, fish)
	t.Logf("%d fish with their stones in the store: %.1f s", fish, time.Since(begun).Seconds())
	begun = time.Now()
	if status, _, _ := p.visitor(t).ask("/intake"); status != http.StatusOK {
		t.Fatalf("the first page answers %d", status)
	}
	t.Logf("the first page, which counts the season: %.2f s", time.Since(begun).Seconds())
	var mu sync.Mutex
	var empty, kept, synced []time.Duration
	var all sync.WaitGroup
	disk := filepath.Join(t.TempDir(), "disk")
	all.Go(func() { // what the disk itself takes, meanwhile, for 4 kB and a sync
		for range people * each / 2 {
			time.Sleep(time.Duration(200+rand.IntN(200)) * time.Millisecond)
			asked := time.Now()
			if err := syncedFile(disk); err != nil {
				t.Error(err)
			}
			synced = append(synced, time.Since(asked))
		}
	})
	for person := range people {
		v := p.visitor(t)
		all.Go(func() {
			for i := range each {
				time.Sleep(time.Duration(2000+rand.IntN(2000)) * time.Millisecond)
				asked := time.Now()
				v.ask("/intake")
				showed := time.Since(asked)
				form := card(codeOf(1_000_000 + person*each + i))
				asked = time.Now()
				status, body, _ := v.send("/intake", form)
				took := time.Since(asked)
				if status != http.StatusSeeOther {
					t.Errorf("a card is answered with %d: %s", status, problems(body))
				}
				mu.Lock()
				empty, kept = append(empty, showed), append(kept, took)
				mu.Unlock()
			}
		})
	}
	all.Wait()
	const bound = 50 * time.Millisecond
	disks := quantile(t, "4 kB written and synced, with no program of ours", synced)
	if p99 := quantile(t, "the empty card", empty); p99 > bound {
		t.Errorf("p99 of the empty card is %.1f ms, want at most 50", ms(p99))
	}
	if p99 := quantile(t, "a card kept on the disk", kept); p99 > bound+disks {
		t.Errorf("p99 of a card kept is %.1f ms, want at most 50 and what the disk takes", ms(p99))
	}
	asked := time.Now()
	p.visitor(t).ask("/find?q=skell")
	t.Logf("looking for a word that a third of the fish have: %.1f ms", ms(time.Since(asked)))
	asked = time.Now()
	if status, _, _ := p.visitor(t).ask("/fish/" + p.fish(t, codeOf(fish/2))); status != http.StatusOK {
		t.Errorf("a fish answers %d", status)
	}
	t.Logf("all that is known of one fish: %.1f ms", ms(time.Since(asked)))
}

// quantile tells how long answers took, and is the time that 99 of 100 stay under.
func quantile(t *testing.T, what string, took []time.Duration) time.Duration {
	t.Helper()
	slices.Sort(took)
	p99 := took[len(took)*99/100]
	t.Logf("%s, %d times: median %.1f ms, p99 %.1f ms, slowest %.1f ms", what, len(took), ms(took[len(took)/2]), ms(p99), ms(took[len(took)-1]))
	return p99
}

// syncedFile writes 4 kB to a file and waits until the disk has them.
func syncedFile(name string) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(make([]byte, 4096))
	return errors.Join(err, f.Sync(), f.Close())
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// many keeps fish with a left and a right stone, in entries of ten years.
func (p *place) many(t testing.TB, n int) {
	t.Helper()
	var entries []*history.Entry
	for i := 1; i <= n; i++ {
		code, ok := label.New("QB", i)
		if !ok {
			t.Fatalf("no code of number %d", i)
		}
		day := fmt.Sprintf("%d-%02d-%02d", time.Now().Year()-i%10, 1+i%5, 1+i%28)
		entries = append(entries, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": code.String(), "species": "BFT", "caught_on": day, "received_on": day,
			"area": []string{"Quarrow", "Skell", "Dunmarrow"}[i%3], "contributor": "C-014", "length": fmt.Sprint(120 + i%140), "length_unit": "cm", "length_kind": "curved_fork"}})
		for _, side := range []string{"L", "R"} {
			entries = append(entries, &history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": code.String(), "side": side}})
		}
		if len(entries) > 10_000 || i == n {
			p.keep(t, entries...)
			entries = entries[:0]
		}
	}
}

// TestFirstPageIsLight: page, style, script and mark together, as they go over the wire.
func TestFirstPageIsLight(t *testing.T) {
	const bound = 150 << 10
	p := serving(t, "mara")
	p.season(t, 20)
	v := p.visitor(t)
	_, body, _ := v.ask("/intake")
	total := len(body)
	for _, part := range strings.Split(body, `"/assets/`)[1:] {
		path, _, _ := strings.Cut(part, `"`)
		status, content, h := v.ask("/assets/" + path)
		if status != http.StatusOK || !strings.Contains(h.Get("Cache-Control"), "immutable") {
			t.Errorf("the file %s answers %d with %q, want to be kept by the browser", path, status, h.Get("Cache-Control"))
		}
		total += len(content)
	}
	if total > bound {
		t.Errorf("the first page weighs %d bytes, want at most %d", total, bound)
	}
	if strings.Contains(body, "http://") || strings.Contains(body, "https://") {
		t.Error("the page names an address elsewhere: it must work with no network")
	}
}

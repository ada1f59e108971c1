package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"earstone/store/history"
	"earstone/store/sqlite"
)

// served starts serve in a folder that new made, and is the address that it prints.
func served(t *testing.T, dir string) (at string, stop func() status) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	said, to := io.Pipe()
	out := &output{out: to, err: io.Discard, clock: time.Now, progress: &progress{to: io.Discard, clock: time.Now}}
	ended := make(chan status, 1)
	go func() { ended <- obey(ctx, []string{"serve", dir, "--listen", "127.0.0.1:0"}, out) }()
	lines := bufio.NewScanner(said)
	for lines.Scan() {
		if found := regexp.MustCompile(`http://localhost:\d+/`).FindString(lines.Text()); found != "" {
			at = found
		}
		if strings.Contains(lines.Text(), "Ctrl-C") {
			break
		}
	}
	go func() { _, _ = io.Copy(io.Discard, said) }()
	if at == "" {
		cancel()
		t.Fatalf("serve prints no address and ends with status %d", <-ended)
	}
	return at, func() status { cancel(); return <-ended }
}

func TestServeAnswersUntilItIsStopped(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "quarrow")
	quiet := &output{out: io.Discard, err: io.Discard, clock: time.Now, progress: &progress{to: io.Discard, clock: time.Now}}
	if got := obey(context.Background(), []string{"new", dir, "--name", "Quarrow Banks", "--species", "BFT"}, quiet); got != done {
		t.Fatalf("new ends with status %d, want %d", got, done)
	}
	at, stop := served(t, dir)
	answer, err := http.Get(at + "intake")
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(answer.Body)
	answer.Body.Close()
	if err != nil || answer.StatusCode != http.StatusOK || !strings.Contains(string(page), "Quarrow Banks") || !strings.Contains(string(page), "Label on the vial") {
		t.Errorf("the page of intake answers %d (%v), and names neither programme nor label", answer.StatusCode, err)
	}
	if _, err := sqlite.Open(context.Background(), dir); !errors.Is(err, history.ErrLocked) {
		t.Errorf("opening the programme a second time while it is served gives %v, want %v", err, history.ErrLocked)
	}
	if got := stop(); got != done {
		t.Errorf("a server that is stopped ends with status %d, want %d", got, done)
	}
	store, err := sqlite.Open(context.Background(), dir)
	if err != nil {
		t.Fatalf("after the server ended the programme can't be opened: %v", err)
	}
	store.Close()
}

func TestWhereServeMayListen(t *testing.T) {
	for address, want := range map[string]bool{"127.0.0.1:8731": true, "localhost:0": true, "[::1]:80": true, "0.0.0.0:8731": false, ":8731": false, "[::]:80": false, "192.0.2.1:80": false} {
		if got, err := isLoopback(address); got != want || err != nil {
			t.Errorf("%s is this machine alone: %v (%v), want %v", address, got, err, want)
		}
	}
	if _, err := isLoopback("8731"); err == nil {
		t.Error("a port alone is taken for an address")
	}
}

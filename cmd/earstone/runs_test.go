package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// quietly is a command without anybody to read what it prints.
func quietly(t *testing.T, args ...string) {
	t.Helper()
	quiet := &output{out: io.Discard, err: io.Discard, clock: time.Now, progress: &progress{to: io.Discard, clock: time.Now}}
	if got := obey(context.Background(), args, quiet); got != done {
		t.Fatalf("%v ends with status %d, want %d", args, got, done)
	}
}

func fetched(t *testing.T, address string) (status int, body string) {
	t.Helper()
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatalf("reading %s: %v", address, err)
	}
	return answer.StatusCode, string(text)
}

// TestServedRunIsThatOfTheCommand starts a run on the page of an invented programme: its
// tables are to the byte those of the command estimate on the same programme, every one of
// them is given to programs, every aged fish of the catch lies beneath one number, and the
// run is there after the server has ended.
func TestServedRunIsThatOfTheCommand(t *testing.T) {
	dir := t.TempDir()
	invented, src, out := filepath.Join(dir, "invented"), filepath.Join(dir, "quarrow"), filepath.Join(dir, "out")
	quietly(t, "demo", "--dir", invented, "--size", "small", "--replicates", "40")
	quietly(t, "new", src, "--name", "Quarrow Banks", "--species", "BFT")
	quietly(t, "import", filepath.Join(invented, "programme"), "--into", src)
	quietly(t, "estimate", src, "--out", out, "--replicates", "40", "--seed", "7", "--only", "catch")
	at, stop := served(t, src)
	answer, err := http.PostForm(at+"estimate", url.Values{"replicates": {"40"}, "seed": {"7"}, "part": {"catch"}})
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	page := answer.Request.URL.String() // where starting it led to
	ended := false
	for limit := time.Now().Add(time.Minute); !ended && time.Now().Before(limit); time.Sleep(20 * time.Millisecond) {
		_, body := fetched(t, page)
		ended = !strings.Contains(body, "Stop this run")
	}
	if _, body := fetched(t, page); !strings.Contains(body, "Open the report") {
		t.Fatalf("the run does not come to its end: %s", body)
	}
	if status, body := fetched(t, page+"/report"); status != http.StatusOK || !strings.Contains(body, "Catch at age") {
		t.Errorf("the report answers %d, and tells no catch at age", status)
	}
	sameTables(t, out, at)
	everyFishBeneath(t, at)
	if got := stop(); got != done {
		t.Errorf("the server ends with status %d", got)
	}
	at, stop = served(t, src)
	if status, body := fetched(t, at+"estimate/"+filepath.Base(page)); status != http.StatusOK || !strings.Contains(body, "Open the report") {
		t.Errorf("after the server was started anew the run answers %d, without its report", status)
	}
	stop()
}

// sameTables holds what programs are given against the files of the command, and asks for
// each in every form.
func sameTables(t *testing.T, out, at string) {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(out, "*.csv"))
	if err != nil || len(names) < 10 {
		t.Fatalf("the command wrote %d tables (%v)", len(names), err)
	}
	for _, name := range names {
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		table := strings.TrimSuffix(filepath.Base(name), ".csv")
		if _, got := fetched(t, at+"data/runs/latest/"+table+".csv"); got != string(want) {
			t.Errorf("%s of the served run is not that of the command", table)
		}
		if status, got := fetched(t, at+"data/runs/latest/"+table+".json"); status != http.StatusOK || !json.Valid([]byte(got)) {
			t.Errorf("%s as JSON answers %d: %.200s", table, status, got)
		}
		if status, got := fetched(t, at+"data/runs/latest/"+table+".parquet"); status != http.StatusOK || !strings.HasPrefix(got, "PAR1") {
			t.Errorf("%s as Parquet answers %d: %.200s", table, status, got)
		}
	}
}

// everyFishBeneath counts the aged fish beneath the numbers against those with an age.
func everyFishBeneath(t *testing.T, at string) {
	t.Helper()
	rows := func(table string) [][]string {
		_, text := fetched(t, at+"data/runs/latest/"+table+".csv")
		all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil || len(all) < 2 {
			t.Fatalf("%s has %d rows (%v)", table, len(all), err)
		}
		return all[1:]
	}
	aged, beneath := map[string]string{}, map[string]string{}
	for _, row := range rows("ages") { // fish, species, annuli, decimal_age, cohort, age
		if row[5] != "" {
			aged[row[0]] = row[5]
		}
	}
	for _, row := range rows("beneath_fish") { // species, five of the place, age, fish
		beneath[row[7]] = row[6]
	}
	if len(aged) == 0 || len(aged) != len(beneath) {
		t.Errorf("%d fish have an age, and %d lie beneath a number", len(aged), len(beneath))
	}
	for fish, age := range aged {
		if beneath[fish] != age {
			t.Errorf("fish %s has age %s, and lies beneath age %q", fish, age, beneath[fish])
		}
	}
}

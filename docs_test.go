package house_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

func TestLicencesNameEveryModule(t *testing.T) {
	page := readPage(t, "docs/licences.md")
	for _, lib := range readLibraries(t) {
		short := strings.TrimPrefix(lib, "github.com/")
		if !strings.Contains(page, short+"`") {
			t.Errorf("Module %s of go.mod is not named in docs/licences.md: read its licence and add it.", lib)
		}
	}
}

func TestWordsStandOnceInOrder(t *testing.T) {
	var words []string
	for line := range strings.Lines(readPage(t, "docs/words.md")) {
		if row, found := strings.CutPrefix(line, "| **"); found {
			word, _, _ := strings.Cut(row, "**")
			words = append(words, word)
		}
	}
	if len(words) == 0 {
		t.Fatal("docs/words.md holds no word: its rows open with | **word**.")
	}
	for i, word := range words[1:] {
		if strings.Compare(words[i], word) >= 0 {
			t.Errorf("In docs/words.md %q stands after %q; each word stands once, in the order of the alphabet.", word, words[i])
		}
	}
}

func TestDecisionsAreNumberedWithoutGap(t *testing.T) {
	pages, err := os.ReadDir("docs/decisions")
	if err != nil {
		t.Fatalf("reading the decisions: %v", err)
	}
	parts := []string{"## Question", "## Choice", "## What was given up", "## What would change our mind"}
	for i, page := range pages {
		number, _, _ := strings.Cut(page.Name(), "-")
		if want := fmt.Sprintf("%04d", i+1); number != want {
			t.Errorf("Decision %s should bear number %s.", page.Name(), want)
		}
		var headings []string
		for line := range strings.Lines(readPage(t, "docs/decisions/"+page.Name())) {
			if strings.HasPrefix(line, "## ") {
				headings = append(headings, strings.TrimSpace(line))
			}
		}
		if !slices.Equal(headings, parts) {
			t.Errorf("Decision %s has the headings %q, want %q.", page.Name(), headings, parts)
		}
	}
}

func readPage(t *testing.T, name string) string {
	t.Helper()
	page, err := os.ReadFile(name)
	if err != nil {
		t.Fatalf("opening a page: %v", err)
	}
	return string(page)
}

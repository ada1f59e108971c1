package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// TestWhatIsLookedForIsBounded: a thousand words took 15 s of the index.
func TestWhatIsLookedForIsBounded(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 2)
	v := p.visitor(t)
	var words []string
	for i := range 13 {
		words = append(words, fmt.Sprintf("w%d", i))
	}
	for _, c := range []struct {
		what, sought string
		status       int
	}{
		{"thirteen words", strings.Join(words, " "), http.StatusUnprocessableEntity},
		{"twelve words, some twice", strings.Join(words[:12], " ") + " W0 w1", http.StatusOK},
		{"201 signs", strings.Repeat("é", 201), http.StatusUnprocessableEntity},
		{"200 signs", strings.Repeat("é", 200), http.StatusOK},
	} {
		status, body, _ := v.ask("/find?" + url.Values{"q": {c.sought}}.Encode())
		if refused := strings.Contains(body, "Look for a label"); status != c.status || refused != (c.status != http.StatusOK) {
			t.Errorf("looking for %s answers %d and refuses it: %v, want %d", c.what, status, refused, c.status)
		}
	}
}

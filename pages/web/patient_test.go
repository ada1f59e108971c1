package web

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// hasty serves the same place with deadlines that are over at once.
func (p *place) hasty(t testing.TB) *httptest.Server {
	t.Helper()
	s := httptest.NewUnstartedServer(p.Config.Handler)
	s.Config.ReadTimeout, s.Config.WriteTimeout = 200*time.Millisecond, 300*time.Millisecond
	s.Start()
	t.Cleanup(s.Close)
	return s
}

// slowly gives its bytes in four parts, each behind the deadline of the server.
type slowly struct {
	left []byte
	each int
}

func (s *slowly) Read(to []byte) (int, error) {
	if len(s.left) == 0 {
		return 0, io.EOF
	}
	<-time.After(150 * time.Millisecond)
	n := copy(to, s.left[:min(s.each, len(s.left))])
	s.left = s.left[n:]
	return n, nil
}

// TestPicturesMayTakeTheirTime: the deadlines of the server cut every upload of more than a
// minute, on the one page that takes a gigabyte. Other pages keep them.
func TestPicturesMayTakeTheirTime(t *testing.T) {
	p := serving(t, "mara")
	s := p.hasty(t)
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", "nobody.png")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = part.Write([]byte(strings.Repeat("x", 4000)))
	_ = w.Close()
	for path, want := range map[string]bool{"/bench/pictures": true, "/intake/table": false} {
		r, err := http.NewRequest(http.MethodPost, s.URL+path, &slowly{b.Bytes(), b.Len()/4 + 1})
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", w.FormDataContentType())
		answer, err := http.DefaultClient.Do(r)
		whole := err == nil && answer.StatusCode == http.StatusOK
		if err == nil {
			answer.Body.Close()
		}
		if whole != want {
			t.Errorf("a body that comes slowly to %s is taken whole: %v (%v), want %v", path, whole, err, want)
		}
	}
}

// TestTimeToSendGrowsWithTheBytes: a table that flows is not cut, one that stands still is.
func TestTimeToSendGrowsWithTheBytes(t *testing.T) {
	var p allowance
	first := p.until(0)
	if grown := p.until(600 * perSecond).Sub(first); grown != 10*time.Minute {
		t.Errorf("behind 600 times %d bytes there are %v more, want 10m0s", perSecond, grown)
	}
	if again := p.until(0).Sub(first); again != 10*time.Minute {
		t.Errorf("a line that stands still is given %v more, want 10m0s as before", again)
	}
	for _, r := range (&server{Site: Site{Store: serving(t, "").store}}).table() {
		if want := r.path == "/bench/pictures" && r.method == post || strings.HasPrefix(r.path, "/data/"); r.patient() != want {
			t.Errorf("%s %s is patient: %v, want %v", r.method, r.path, r.patient(), want)
		}
	}
}

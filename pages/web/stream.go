package web

import (
	"mime"
	"net/http"

	"earstone/pages/web/frame"
	"earstone/store/accounts"
)

// opening sends what goes before the first byte only when there is one, so that trouble
// before it can still be told.
type opening struct {
	http.ResponseWriter
	open   func()
	opened bool
}

func (o *opening) Write(part []byte) (int, error) {
	if !o.opened {
		o.opened = true
		o.open()
	}
	return o.ResponseWriter.Write(part)
}

// stream sends what is no page of ours. What breaks off is broken off for whoever reads it
// as well, so that nobody takes a part for the whole.
func (s *server) stream(w http.ResponseWriter, in *http.Request, who accounts.Person, a frame.Answer) {
	to := &opening{ResponseWriter: w, open: func() { head(w.Header(), a.Stream); w.WriteHeader(a.Status) }}
	err := a.Stream.Write(to)
	switch {
	case err == nil && !to.opened:
		_, _ = to.Write(nil) // it is empty
	case err != nil && !to.opened:
		s.send(w, in, who, frame.Answer{}, err)
	case err != nil:
		if in.Context().Err() == nil {
			s.Log.Error("sending a table", "path", in.URL.Path, "error", err)
		}
		panic(http.ErrAbortHandler)
	}
}

// head says what a stream is.
func head(h http.Header, of *frame.Stream) {
	h.Set("Content-Type", of.Kind)
	if of.Policy != "" {
		h.Set("Content-Security-Policy", of.Policy)
	}
	if of.Alone { // a browser refuses a page apart that asks for company
		h.Del("Cross-Origin-Opener-Policy")
	}
	if of.Name != "" {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": of.Name}))
	}
}

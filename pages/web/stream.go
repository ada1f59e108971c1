package web

import (
	"mime"
	"net/http"

	"earstone/pages/web/frame"
)

// stream sends what is no page of ours. What breaks off is broken off for whoever reads it
// as well, so that nobody takes a part for the whole.
func (s *server) stream(w http.ResponseWriter, in *http.Request, a frame.Answer) {
	h := w.Header()
	h.Set("Content-Type", a.Stream.Kind)
	if a.Stream.Policy != "" {
		h.Set("Content-Security-Policy", a.Stream.Policy)
	}
	if a.Stream.Alone { // a browser refuses a page apart that asks for company
		h.Del("Cross-Origin-Opener-Policy")
	}
	if a.Stream.Name != "" {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": a.Stream.Name}))
	}
	w.WriteHeader(a.Status)
	if err := a.Stream.Write(w); err != nil {
		if in.Context().Err() == nil {
			s.Log.Error("sending a table", "path", in.URL.Path, "error", err)
		}
		panic(http.ErrAbortHandler)
	}
}

package frame

import (
	"io"
	"net/http"
)

// Stream is what is sent as it is made: a table for a program, a page that stands by itself.
type Stream struct {
	Kind   string                // its media type
	Name   string                // under which a browser keeps it; empty: it is shown
	Policy string                // what it may load, instead of the policy of our pages
	Alone  bool                  // a page that is kept apart from all others of this server
	Write  func(io.Writer) error // an error after the first byte breaks the transfer off
}

// Streamed answers with what is made while it is sent.
func Streamed(s Stream) Answer { return Answer{Status: http.StatusOK, Stream: &s} }

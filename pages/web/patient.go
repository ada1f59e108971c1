package web

import (
	"errors"
	"io"
	"net/http"
	"time"
)

// How long a large body may take: a minute, and a second more for each so many bytes that
// came through. A line that carries less is given up.
const (
	patience  = time.Minute
	perSecond = 16 << 10
)

// patient tells the routes whose bodies are large: pictures come in, tables go out. The
// deadlines of the server, which hold for all others, would cut them.
func (r route) patient() bool { return r.takes >= picturesBody || r.forPrograms() }

// allowance moves the deadlines of one request while bytes flow.
type allowance struct {
	to    *http.ResponseController
	began time.Time
	bytes int64
}

// until is when the bytes to come must have begun to.
func (p *allowance) until(n int) time.Time {
	if p.began.IsZero() {
		p.began = time.Now()
	}
	p.bytes += int64(n)
	return p.began.Add(patience + time.Duration(p.bytes/perSecond)*time.Second)
}

// incoming is a body that may take its time. The answer may take its own behind it.
type incoming struct {
	io.ReadCloser
	allowance
}

func (b *incoming) Read(to []byte) (int, error) {
	if err := b.to.SetReadDeadline(b.until(0)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, err
	}
	n, err := b.ReadCloser.Read(to)
	b.until(n)
	return n, err
}

// outgoing is an answer that may take its time.
type outgoing struct {
	http.ResponseWriter
	allowance
}

func (o *outgoing) Write(part []byte) (int, error) {
	if err := o.to.SetWriteDeadline(o.until(len(part))); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, err
	}
	return o.ResponseWriter.Write(part)
}

// Unwrap lets the deadlines of what is within be reached.
func (o *outgoing) Unwrap() http.ResponseWriter { return o.ResponseWriter }

// patiently gives a request to a patient route the time that it needs; done is called once
// its body was read, from where on only the answer has a deadline.
func patiently(w http.ResponseWriter, in *http.Request) (slow http.ResponseWriter, done func()) {
	to := http.NewResponseController(w)
	in.Body = &incoming{in.Body, allowance{to: to}}
	return &outgoing{w, allowance{to: to}}, func() { _ = to.SetReadDeadline(time.Time{}) } // else the end of the time to read ends the context
}

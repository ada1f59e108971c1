// Package frame holds what every served page has: layout, forms, who asks and what they get.
//
// A page is a Handler: it reads the request, calls one thing and answers with a typed
// view. It writes no status and no header itself; whatever goes wrong is an error, and
// one place (Trouble) turns it into a page.
package frame

import (
	"context"
	"errors"
	"net/http"

	"earstone/store/accounts"
)

// Request is what a page is asked, and by whom.
type Request struct {
	*http.Request
	Who accounts.Person
}

// By is the code under which this person writes records.
func (r *Request) By() string { return r.Who.ID }

// Typed is a field of the form, or of the address, as it was typed.
func (r *Request) Typed(name string) string { return r.FormValue(name) }

// Handler answers a request.
type Handler func(r *Request) (Answer, error)

// Answer is what is sent back: a page, a way on, or a refusal.
type Answer struct {
	Status int
	Page   *Page
	View   any

	Refresh int     // seconds after which a browser without script asks for the page again; 0: never
	Stream  *Stream // sent instead of a page

	Title  string
	Stage  Stage
	To     string // the address to go on to
	Cookie *http.Cookie
	File   []byte // sent as it is instead of a page
	Kind   string // of the file: image/jpeg
}

// Send answers with a file or a piece of data.
func Send(kind string, file []byte) Answer {
	return Answer{Status: http.StatusOK, Kind: kind, File: file}
}

// Show answers with a page.
func (p *Page) Show(title string, view any) Answer {
	return Answer{Status: http.StatusOK, Page: p, Title: title, View: view, Stage: p.stage}
}

// Again answers with the same form once more: what was typed stays, each problem stands
// beside its field.
func (p *Page) Again(title string, view any) Answer {
	a := p.Show(title, view)
	a.Status = http.StatusUnprocessableEntity
	return a
}

// Next sends the browser on to another page, so that going back or again repeats nothing.
func Next(to string) Answer { return Answer{Status: http.StatusSeeOther, To: to} }

// Trouble is an error with words for a person: what happened, and what to do.
type Trouble struct {
	Status   int
	Says, Do string
}

func (t Trouble) Error() string { return t.Says }

// The troubles that any page may have.
var (
	NotThere = Trouble{http.StatusNotFound, "There is no such page.", "Look for a label or a word in the box above."}
	TooMuch  = Trouble{http.StatusRequestEntityTooLarge, "That is more than a page takes at once.", "Send it in parts, or use earstone import for a large file."}
)

// troubleOf is what a person is told of an error; other is the answer to all that has no
// words of its own.
func troubleOf(err error, known func(error) (Trouble, bool)) Trouble {
	var said Trouble
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &said):
		return said
	case errors.As(err, &large):
		return TooMuch
	case errors.Is(err, context.Canceled):
		return Trouble{499, "The page was left before it was there.", "Ask for it again."}
	}
	if t, ok := known(err); ok {
		return t
	}
	return Trouble{http.StatusInternalServerError, "Something around the program failed, and nothing of this was kept.",
		"Do it again. If it fails again, tell whoever runs the server: the reason stands in its log."}
}

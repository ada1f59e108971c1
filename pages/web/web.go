// Package web serves the notebook: the route table, who may take which route, and the server.
//
// What a person may do stands in one table (routes.go). Around it stand, outermost first:
// the headers that tell a browser what a page may load, the name under which the server
// may be asked, the refusal of what other sites send, the bound of what is read, and who
// asks.
package web

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"time"

	"earstone/pages/letter"
	"earstone/pages/web/frame"
	"earstone/pages/web/season"
	"earstone/programme/label"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/pictures"
)

// Site is what is served, and to whom.
type Site struct {
	Store     history.Store
	Accounts  *accounts.Register
	Runs      jobs.Queue                              // of estimates
	Told      func(results fs.FS) (letter.Run, error) // what a run found, for letters
	Pictures  *pictures.Folder
	Kits      func() ([]label.Kit, error) // as they are now, for the phone page; nil: there are none
	Programme string                      // its name, on every page
	Now       func() time.Time
	Log       *slog.Logger

	// Solo is the code under which the one person writes who needs no account, on
	// loopback and while nobody has one. Empty: everybody signs in.
	Solo   string
	Hosts  []string // names under which the server is asked, beside those of this machine
	Secure bool     // the browser's way here is encrypted: by us, or by a proxy that was declared
	Proxy  bool     // requests come through a proxy that says for whom
}

// server answers requests.
type server struct {
	Site
	routes []route
	flow   *season.Count
	tries  *tries
}

// New is the handler of a site. It goes through the journal once, so that no page waits
// for that.
func New(ctx context.Context, site Site) (http.Handler, error) {
	s := &server{Site: site, flow: season.New(site.Store, site.Now), tries: newTries(site.Now)}
	s.routes = s.table()
	if _, err := s.flow.Flow(ctx); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, r := range s.routes {
		mux.Handle(r.method+" "+r.path, s.handle(r))
	}
	mux.HandleFunc("GET /assets/{hash}/{name}", frame.ServeAsset)
	mux.Handle("/", s.handle(route{path: "/", may: anyone, answer: func(*frame.Request) (frame.Answer, error) { return frame.Answer{}, frame.NotThere }}))
	return s.secured(mux), nil
}

// handle finds out who asks, holds that against the table, and sends the answer.
func (s *server) handle(r route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, in *http.Request) {
		in.Body = http.MaxBytesReader(w, in.Body, max(r.takes, usualBody))
		who, err := s.caller(r, in)
		if err != nil {
			s.send(w, in, who, frame.Answer{}, err)
			return
		}
		if refusal, ok := r.refuses(who, in); ok {
			s.send(w, in, who, refusal, nil)
			return
		}
		read := func() {}
		if r.patient() {
			w, read = patiently(w, in)
		}
		if err := parseForm(in, r.takes); err != nil {
			s.send(w, in, who, frame.Answer{}, err)
			return
		}
		read()
		answer, err := r.answer(&frame.Request{Request: in, Who: who})
		s.send(w, in, who, answer, err)
	})
}

// inMemory is how much of the files of a form is held in memory; the rest lies on disk until
// the answer is given.
const inMemory = 16 << 20

// parseForm reads the form within its bound.
func parseForm(in *http.Request, takes int64) error {
	var err error
	if strings.HasPrefix(in.Header.Get("Content-Type"), "multipart/form-data") && takes > 0 {
		err = in.ParseMultipartForm(min(takes, inMemory))
	} else {
		err = in.ParseForm()
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return frame.TooMuch
	case err != nil:
		return frame.Trouble{Status: http.StatusBadRequest, Says: "The form came damaged.", Do: "Go back and send it again."}
	}
	return nil
}

// refuses is the answer to somebody who may not take a route.
func (r route) refuses(who accounts.Person, in *http.Request) (frame.Answer, bool) {
	switch {
	case r.may == anyone || who.Roles.Has(r.may):
		return frame.Answer{}, false
	case who.ID != "":
		return frame.OfTrouble(frame.Trouble{Status: http.StatusForbidden, Says: "This page is not for your role.",
			Do: "It is for: " + r.may.String() + ". An administrator can change roles."}, noWords), true
	case in.Method == http.MethodGet || in.Method == http.MethodHead:
		return frame.Next("/sign-in?next=" + url.QueryEscape(in.URL.RequestURI())), true
	}
	return frame.OfTrouble(frame.Trouble{Status: http.StatusUnauthorized, Says: "You are not signed in any more.",
		Do: "Nothing of this was kept. Sign in, in another window if you like, and send it again."}, noWords), true
}

func noWords(error) (frame.Trouble, bool) { return frame.Trouble{}, false }

// who asks: whoever signed in, or the one person at their own machine.
func (s *server) who(in *http.Request) (accounts.Person, error) {
	if s.Solo != "" {
		alone, err := s.Accounts.Empty(in.Context())
		if err != nil {
			return accounts.Person{}, err
		}
		if alone {
			return accounts.Person{ID: s.Solo, Name: s.Solo, Roles: accounts.Everybody}, nil
		}
	}
	return s.Accounts.Whose(in.Context(), s.token(in))
}

// send turns an answer or an error into what goes over the wire.
func (s *server) send(w http.ResponseWriter, in *http.Request, who accounts.Person, a frame.Answer, err error) {
	if err != nil {
		a = frame.OfTrouble(err, storeTrouble)
		if a.Status >= 500 && !errors.Is(err, context.Canceled) {
			s.Log.Error("answering a request", "method", in.Method, "path", in.URL.Path, "error", err)
		}
	}
	if a = toProgram(w, in, a); a.Stream != nil {
		s.stream(w, in, who, a)
		return
	}
	if a.Cookie != nil {
		http.SetCookie(w, a.Cookie)
	}
	if a.To != "" {
		http.Redirect(w, in, a.To, http.StatusSeeOther)
		return
	}
	if a.Kind != "" {
		w.Header().Set("Content-Type", a.Kind)
		w.WriteHeader(a.Status)
		_, _ = w.Write(a.File) // the browser left: nobody to tell
		return
	}
	around, err := s.around(in, who)
	if err != nil && in.Context().Err() == nil { // else the browser left, which is no trouble
		s.Log.Error("counting the season", "error", err) // the page is worth more than its band
	}
	page, err := around.Render(a)
	if err != nil {
		s.Log.Error("drawing a page", "path", in.URL.Path, "error", err)
		http.Error(w, "The page could not be drawn. The reason stands in the log of the server.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(a.Status)
	_, _ = w.Write(page) // the browser left: nobody to tell
}

// around is what stands around the page for this person.
func (s *server) around(in *http.Request, who accounts.Person) (frame.Surroundings, error) {
	a := frame.Surroundings{Programme: s.Programme, Who: who, Solo: who.ID != "" && who.ID == s.Solo && s.token(in) == "",
		Path: func(st frame.Stage) string { return s.pathOf(st, who) }}
	if who.ID == "" {
		return a, nil
	}
	a.Seek = s.may(who, http.MethodGet, "/find")
	a.Sought = in.URL.Query().Get("q")
	for _, l := range beside {
		if s.may(who, http.MethodGet, l.Path) {
			a.Links = append(a.Links, l)
		}
	}
	var err error
	a.Flow, err = s.flow.Flow(in.Context())
	return a, err
}

// may tells whether a person may take a route of the table.
func (s *server) may(who accounts.Person, method, path string) bool {
	for _, r := range s.routes {
		if r.method == method && r.path == path {
			return r.may == anyone || who.Roles.Has(r.may)
		}
	}
	return false
}

func (s *server) pathOf(stage frame.Stage, who accounts.Person) string {
	for _, r := range s.routes {
		if r.stage == stage && stage != frame.NoStage && who.Roles.Has(r.may) {
			return r.path
		}
	}
	return ""
}

// storeTrouble gives words to the errors of a store.
func storeTrouble(err error) (frame.Trouble, bool) {
	for known, do := range map[error]frame.Trouble{
		history.ErrNotFound: {Status: http.StatusNotFound, Says: "There is no such record.", Do: "Look for its label in the box above."},
		history.ErrStale: {Status: http.StatusConflict, Says: "Somebody else changed this record meanwhile.",
			Do: "Nothing of yours was kept. Look at the record as it is now, then change it again."},
		history.ErrTaken:  {Status: http.StatusConflict, Says: "Another record has this label already.", Do: "Look at that record first; then give this one another label."},
		history.ErrLocked: {Status: http.StatusServiceUnavailable, Says: "Another program writes to this programme.", Do: "Nothing of this was kept. Wait a moment and send it again."},
		history.ErrFull: {Status: http.StatusInsufficientStorage, Says: "The disk is full.",
			Do: "Nothing of this was kept, and all that was kept before is whole. Make room, then send it again."},
		history.ErrReadOnly: {Status: http.StatusServiceUnavailable, Says: "The folder of the programme can't be written to.", Do: "Nothing of this was kept. Ask for the right to write there."},
		history.ErrDamaged:  {Status: http.StatusServiceUnavailable, Says: "The file of the programme is damaged.", Do: "Stop, and ask whoever runs the server: earstone verify tells what is whole."},
	} {
		if errors.Is(err, known) {
			return do, true
		}
	}
	return frame.Trouble{}, false
}

// address is where a request comes from, as far as that can be believed.
func (s *server) address(in *http.Request) string {
	if s.Proxy {
		said := in.Header.Values("X-Forwarded-For")
		if len(said) > 0 { // the last is the proxy's own word; those before it are anybody's
			parts := strings.Split(said[len(said)-1], ",")
			return strings.TrimSpace(parts[len(parts)-1])
		}
	}
	at, err := netip.ParseAddrPort(in.RemoteAddr)
	if err != nil {
		return "unknown"
	}
	if ip := at.Addr().Unmap(); ip.Is6() { // one subscriber has a whole /64
		if net, err := ip.Prefix(64); err == nil {
			return net.String()
		}
	}
	return at.Addr().Unmap().String()
}

// ErrNotSafe is why a server refuses to listen for other machines.
var ErrNotSafe = errors.New("it is not safe to listen for other machines like this")

// Listening holds what was asked of a server against what is safe: to be asked from
// other machines it needs somebody who can give out accounts, an encrypted way, and a
// name under which it is asked.
func Listening(ctx context.Context, register *accounts.Register, loopback, encrypted bool, names []string) error {
	if loopback {
		return nil
	}
	there, err := register.HasAdministrator(ctx)
	switch {
	case err != nil:
		return err
	case !there:
		return fmt.Errorf("%w: nobody is an administrator. Start it for this machine only (without --listen), make the account of an administrator on the page People, then start it again", ErrNotSafe)
	case !encrypted:
		return fmt.Errorf("%w: passwords would cross the network in the open. Give --certificate and --key, or --behind-proxy when a proxy in front of it encrypts", ErrNotSafe)
	case len(names) == 0:
		return fmt.Errorf("%w: give --name with the name that people type into their browser", ErrNotSafe)
	}
	return nil
}

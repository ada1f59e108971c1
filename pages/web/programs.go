package web

import (
	"net/http"
	"strings"

	"earstone/pages/web/data"
	"earstone/pages/web/frame"
	"earstone/store/accounts"
)

// program is what whoever shows a token may do: read tables and results.
const program = accounts.Analyst

// forPrograms tells the routes under which programs load tables. They alone take a token,
// and they only read.
func (r route) forPrograms() bool {
	return r.method == http.MethodGet && strings.HasPrefix(r.path, "/data/")
}

var errBadToken = frame.Trouble{Status: http.StatusUnauthorized, Says: "This token does not hold.",
	Do: "It was withdrawn, or part of it is missing. An administrator gives tokens on the page People."}

// caller is who asks for a route: the program whose token is shown, or else a person.
func (s *server) caller(r route, in *http.Request) (accounts.Person, error) {
	shown := in.Header.Get("Authorization")
	if shown == "" || !r.forPrograms() {
		return s.who(in)
	}
	scheme, token, _ := strings.Cut(shown, " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return accounts.Person{}, errBadToken
	}
	name, err := s.Accounts.Program(in.Context(), accounts.Token(strings.TrimSpace(token)))
	if err != nil {
		return accounts.Person{}, err
	}
	if name == "" {
		return accounts.Person{}, errBadToken
	}
	return accounts.Person{ID: "program " + name, Name: name, Roles: program}, nil
}

// toProgram turns a page that tells of trouble, or that asks to sign in, into what a
// program can read. A browser gets the page.
func toProgram(w http.ResponseWriter, in *http.Request, a frame.Answer) frame.Answer {
	if !strings.HasPrefix(in.URL.Path, "/data/") || strings.Contains(in.Header.Get("Accept"), "text/html") {
		return a
	}
	t, is := a.View.(frame.Trouble)
	if strings.HasPrefix(a.To, "/sign-in") {
		t, is = frame.Trouble{Status: http.StatusUnauthorized, Says: "A program shows a token here.",
			Do: "Send it as Authorization: Bearer TOKEN. An administrator gives tokens on the page People."}, true
	}
	if !is {
		return a
	}
	if t.Status == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", "Bearer")
	}
	return data.Refusal(t)
}

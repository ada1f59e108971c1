package web

import (
	"embed"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/accounts"
)

//go:embed signin.html
var signInFiles embed.FS

var signInPage = frame.Parse(frame.NoStage, signInFiles, "signin.html")

// signInForm is the form of signing in.
type signInForm struct {
	Next         string
	ID, Password frame.Field
	Refused      string
}

const signInTitle = "Sign in"

func newSignIn(id, next string) signInForm {
	return signInForm{Next: localPath(next),
		ID:       frame.Field{Name: "person", Label: "Name of the account", Value: id, Focus: id == "", Fill: "username"},
		Password: frame.Field{Name: "password", Label: "Password", Kind: "password", Focus: id != "", Fill: "current-password"}}
}

func (s *server) askSignIn(r *frame.Request) (frame.Answer, error) {
	return signInPage.Show(signInTitle, newSignIn("", r.Typed("next"))), nil
}

// signIn begins a session under a fresh token, whatever the browser brought along.
func (s *server) signIn(r *frame.Request) (frame.Answer, error) {
	id, next := strings.ToLower(strings.TrimSpace(r.Typed("person"))), r.Typed("next")
	from := s.address(r.Request)
	again := newSignIn(id, next)
	if !s.tries.allow(id, from) {
		again.Refused = "Too many tries. Wait a minute, then try again; who has forgotten the password asks an administrator for a new one."
		a := signInPage.Again(signInTitle, again)
		a.Status = http.StatusTooManyRequests
		return a, nil
	}
	_, token, err := s.Accounts.SignIn(r.Context(), id, r.Typed("password"), s.token(r.Request))
	if errors.Is(err, accounts.ErrWrong) {
		again.Refused = "Name and password do not belong together."
		a := signInPage.Again(signInTitle, again)
		a.Status = http.StatusUnauthorized
		return a, nil
	}
	if err != nil {
		return frame.Answer{}, err
	}
	s.tries.forgive(id, from)
	a := frame.Next(localPath(next))
	a.Cookie = s.cookie(token, 7*24*time.Hour)
	return a, nil
}

func (s *server) signOut(r *frame.Request) (frame.Answer, error) {
	if err := s.Accounts.SignOut(r.Context(), r.By(), s.token(r.Request)); err != nil {
		return frame.Answer{}, err
	}
	a := frame.Next("/sign-in")
	a.Cookie = s.cookie("", 0)
	return a, nil
}

// localPath is where to go after signing in: a path of this server, never another site.
func localPath(next string) string {
	at, err := url.Parse(next)
	if err != nil || at.IsAbs() || at.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/"
	}
	return next
}

// begin sends a person on to the first stage whose page is theirs.
func (s *server) begin(r *frame.Request) (frame.Answer, error) {
	for _, stage := range []frame.Stage{frame.Intake, frame.Bench, frame.Read, frame.Settle, frame.Estimate, frame.Plan, frame.Back} {
		if path := s.pathOf(stage, r.Who); path != "" {
			return frame.Next(path), nil
		}
	}
	for _, l := range beside {
		if s.may(r.Who, http.MethodGet, l.Path) {
			return frame.Next(l.Path), nil
		}
	}
	return frame.Answer{}, frame.Trouble{Status: http.StatusOK, Says: "Nothing of yours stands here yet.",
		Do: "The pages of your role are still to come; the band above tells which."}
}

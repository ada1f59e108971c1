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

//go:embed signin.html account.html
var signInFiles embed.FS

var (
	signInPage  = frame.Parse(frame.NoStage, signInFiles, "signin.html")
	accountPage = frame.Parse(frame.NoStage, signInFiles, "account.html")
)

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
	refuse := func(status int, says string) (frame.Answer, error) {
		again := newSignIn(id, next)
		again.Refused = says
		a := signInPage.Again(signInTitle, again)
		a.Status = status
		return a, nil
	}
	const wrong = "Name and password do not belong together."
	if !accounts.GoodID(id) { // no account can have it: nothing to count, look up or hash
		return refuse(http.StatusUnauthorized, wrong)
	}
	if !s.tries.allow(id, from) {
		return refuse(http.StatusTooManyRequests, "Too many tries. Wait a minute, then try again; who has forgotten the password asks an administrator for a new one.")
	}
	_, token, err := s.Accounts.SignIn(r.Context(), id, r.Typed("password"), s.token(r.Request))
	if errors.Is(err, accounts.ErrWrong) {
		return refuse(http.StatusUnauthorized, wrong)
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

// account is the page of somebody's own account.
type account struct {
	Roles             string
	Current, Password frame.Field
}

func newAccount(of accounts.Person) account {
	return account{Roles: of.Roles.String(),
		Current:  frame.Field{Name: "current", Label: "Password until now", Kind: "password", Fill: "current-password"},
		Password: frame.Field{Name: "password", Label: "New password", Kind: "password", Fill: "new-password", Hint: "12 signs or more. Three or four words that have nothing to do with each other are easy to keep in mind."}}
}

var errNoAccount = frame.Trouble{Status: http.StatusNotFound, Says: "You have no account here, and need none.", Do: "The page People makes accounts."}

func (s *server) askAccount(r *frame.Request) (frame.Answer, error) {
	if s.token(r.Request) == "" {
		return frame.Answer{}, errNoAccount
	}
	return accountPage.Show("Your account", newAccount(r.Who)), nil
}

// setOwnPassword wants the password until now, so that a browser that was left open gives
// nobody the account; it ends all sessions of the person.
func (s *server) setOwnPassword(r *frame.Request) (frame.Answer, error) {
	if s.token(r.Request) == "" {
		return frame.Answer{}, errNoAccount
	}
	a := newAccount(r.Who)
	wrong := func(field *frame.Field, says, do string) (frame.Answer, error) {
		field.Problems, field.Focus = []frame.Problem{{Says: says, Do: do, Grave: true}}, true
		return accountPage.Again("Your account", a), nil
	}
	if !s.tries.allow(r.By(), s.address(r.Request)) {
		return wrong(&a.Current, "Too many tries.", "Wait a minute, then try again.")
	}
	err := s.Accounts.SetOwnPassword(r.Context(), r.By(), r.Typed("current"), r.Typed("password"))
	switch {
	case errors.Is(err, accounts.ErrWrong):
		return wrong(&a.Current, "This is not your password.", "Who has forgotten it asks an administrator for a new one.")
	case errors.Is(err, accounts.ErrWeak):
		return wrong(&a.Password, "This password is too short, too long, or the name itself.", "Take 12 to 200 signs.")
	case err != nil:
		return frame.Answer{}, err
	}
	s.tries.forgive(r.By(), s.address(r.Request))
	answer := frame.Next("/sign-in")
	answer.Cookie = s.cookie("", 0)
	return answer, nil
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

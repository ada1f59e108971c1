// Package people is the page of accounts: who may do what, and who did what to an account.
package people

import (
	"embed"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"earstone/pages/web/frame"
	"earstone/store/accounts"
)

//go:embed people.html person.html
var files embed.FS

var (
	listPage   = frame.Parse(frame.NoStage, files, "people.html")
	personPage = frame.Parse(frame.NoStage, files, "person.html")
)

// Page shows and changes the accounts of a register.
type Page struct {
	register *accounts.Register
	unblinds accounts.Roles
}

// New is the page of a register. unblinds are the roles under which a reader sees what a
// count must not know, as the route table has it.
func New(register *accounts.Register, unblinds accounts.Roles) *Page {
	return &Page{register, unblinds}
}

// list is what the page of all people shows.
type list struct {
	First  bool // nobody has an account yet
	People []row
	Trail  []line
	Turned []turned // away
	New    form

	Programs programs
}

type row struct {
	accounts.Person
	Sessions int
	Blind    bool // reads, and sees what blinds
}

type line struct {
	When, Who, Deed, Whom, Detail string
}

// turned is who was refused, and how often.
type turned struct {
	Whom, Times, Last string
}

// form is the form of one account.
type form struct {
	Person                    accounts.Person
	ID, Name, Roles, Password frame.Field
	Refused                   string
}

const (
	title  = "People"
	moment = "2 January 2006, 15:04 UTC"
)

// All shows the accounts, the form for another, and the trail.
func (p *Page) All(r *frame.Request) (frame.Answer, error) {
	view, err := p.list(r)
	return listPage.Show(title, view), err
}

func (p *Page) list(r *frame.Request) (view list, err error) {
	people, err := p.register.People(r.Context())
	if err != nil {
		return view, err
	}
	sessions, err := p.register.Sessions(r.Context())
	if err != nil {
		return view, err
	}
	trail, err := p.register.Trail(r.Context(), 100)
	if err != nil {
		return view, err
	}
	refusals, err := p.register.Refusals(r.Context(), 20)
	if err != nil {
		return view, err
	}
	if view.Programs, err = p.programs(r); err != nil {
		return view, err
	}
	view.First = len(people) == 0
	for _, one := range people {
		view.People = append(view.People, row{one, sessions[one.ID], one.Roles.Has(accounts.Reader) && one.Roles.Has(p.unblinds)})
	}
	for _, one := range refusals {
		view.Turned = append(view.Turned, turned{one.Whom, strconv.Itoa(one.Times), one.Last.UTC().Format(moment)})
	}
	for _, e := range trail {
		view.Trail = append(view.Trail, line{e.At.UTC().Format(moment), e.Who, string(e.Deed), e.Whom, e.Detail})
	}
	roles := accounts.Roles(0)
	if view.First {
		roles = accounts.Administrator
	}
	view.New = newForm(accounts.Person{Roles: roles})
	return view, nil
}

var roleHints = map[accounts.Roles]string{
	accounts.Coordinator:   "coordinator: intake, bench, sittings, estimates",
	accounts.Bench:         "bench: intake and every step of a stone",
	accounts.Reader:        "reader: counts, and sees no length, day or place",
	accounts.Analyst:       "analyst: deals sittings, runs estimates, sees all records, changes none",
	accounts.Administrator: "administrator: accounts, tokens, estimates",
}

func newForm(of accounts.Person) form {
	f := form{Person: of,
		ID:       frame.Field{Name: "person", Label: "Name to sign in with", Value: of.ID, Needed: true, Span: "wide", Hint: "Small letters, digits, dots, hyphens. It stands beside every record that this person writes."},
		Name:     frame.Field{Name: "name", Label: "Name of the person", Value: of.Name, Span: "wide"},
		Roles:    frame.Field{Name: "role", Label: "Roles", Kind: "checks", Span: "whole"},
		Password: frame.Field{Name: "password", Label: "Password", Kind: "password", Span: "wide", Fill: "new-password", Hint: "12 signs or more. Three or four words that have nothing to do with each other are easy to keep in mind."}}
	for _, role := range accounts.Each() {
		f.Roles.Options = append(f.Roles.Options, frame.Option{Value: role.String(), Text: roleHints[role], Chosen: of.Roles.Has(role)})
	}
	return f
}

// Add makes an account.
func (p *Page) Add(r *frame.Request) (frame.Answer, error) {
	person := readPerson(r)
	person.ID = strings.ToLower(strings.TrimSpace(r.Typed("person")))
	err := p.register.Add(r.Context(), r.By(), person, r.Typed("password"))
	f := newForm(person)
	if !f.explain(err) {
		if err != nil {
			return frame.Answer{}, err
		}
		return frame.Next("/people"), nil
	}
	view, err := p.list(r)
	view.New = f
	return listPage.Again(title, view), err
}

func readPerson(r *frame.Request) (p accounts.Person) {
	p.Name = strings.TrimSpace(r.Typed("name"))
	for _, word := range r.Form["role"] {
		if role, ok := accounts.ParseRole(word); ok {
			p.Roles |= role
		}
	}
	return p
}

// explain puts a refusal beside its field; false when there is none that it knows.
func (f *form) explain(err error) bool {
	at := func(field *frame.Field, says, do string) bool {
		field.Problems = append(field.Problems, frame.Problem{Says: says, Do: do, Grave: true})
		return true
	}
	switch {
	case errors.Is(err, accounts.ErrBadID):
		return at(&f.ID, "This can't be the name of an account.", "Take 2 to 40 small letters, digits, dots or hyphens, a letter first.")
	case errors.Is(err, accounts.ErrTaken):
		return at(&f.ID, "Somebody has this name already.", "Take another.")
	case errors.Is(err, accounts.ErrWeak):
		return at(&f.Password, "This password is too short, too long, or the name itself.", "Take 12 to 200 signs.")
	case errors.Is(err, accounts.ErrNoRole):
		return at(&f.Roles, "An account needs a role, and the first account is an administrator's.", "Choose one or more.")
	case errors.Is(err, accounts.ErrLastAdmin):
		return at(&f.Roles, "Nobody else is an administrator.", "Make another administrator first.")
	}
	return false
}

// find is the person that the address names.
func (p *Page) find(r *frame.Request) (accounts.Person, error) {
	people, err := p.register.People(r.Context())
	if err != nil {
		return accounts.Person{}, err
	}
	for _, one := range people {
		if one.ID == r.PathValue("person") {
			return one, nil
		}
	}
	return accounts.Person{}, frame.Trouble{Status: http.StatusNotFound, Says: "There is no such account.", Do: "Look for it on the page People."}
}

// One shows the form of one account.
func (p *Page) One(r *frame.Request) (frame.Answer, error) {
	person, err := p.find(r)
	return personPage.Show(person.ID, newForm(person)), err
}

// Change gives an account other roles or another name, closes or opens it.
func (p *Page) Change(r *frame.Request) (frame.Answer, error) {
	before, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	person := readPerson(r)
	person.ID, person.Closed = before.ID, r.Typed("closed") != ""
	return p.done(newForm(person), p.register.Change(r.Context(), r.By(), person))
}

// SetPassword gives an account another password.
func (p *Page) SetPassword(r *frame.Request) (frame.Answer, error) {
	person, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	return p.done(newForm(person), p.register.SetPassword(r.Context(), r.By(), person.ID, r.Typed("password")))
}

// EndSessions signs a person out wherever they are signed in.
func (p *Page) EndSessions(r *frame.Request) (frame.Answer, error) {
	person, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	return p.done(newForm(person), p.register.EndSessions(r.Context(), r.By(), person.ID))
}

func (p *Page) done(f form, err error) (frame.Answer, error) {
	switch {
	case f.explain(err):
		return personPage.Again(f.Person.ID, f), nil
	case err != nil:
		return frame.Answer{}, err
	}
	return frame.Next("/people"), nil
}

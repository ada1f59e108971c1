package people

import (
	"errors"
	"net/http"

	"earstone/pages/web/frame"
	"earstone/store/accounts"
)

// programs is what the page says of programs that read.
type programs struct {
	Given []given
	Name  frame.Field
	Token accounts.Token // of the grant that was just made, shown this once
	For   string         // what that is for
}

type given struct{ Name, By, Since, Used string }

func newProgram(name string) frame.Field {
	return frame.Field{Name: "program", Label: "What the token is for", Value: name, Span: "wide", Hint: "Such as: season report on the laboratory's computer."}
}

func (p *Page) programs(r *frame.Request) (v programs, err error) {
	all, err := p.register.Grants(r.Context())
	if err != nil {
		return v, err
	}
	for _, g := range all {
		one := given{g.Name, g.By, g.Given.UTC().Format("2 January 2006"), "never"}
		if !g.Used.IsZero() {
			one.Used = g.Used.UTC().Format(moment)
		}
		v.Given = append(v.Given, one)
	}
	v.Name = newProgram("")
	return v, nil
}

// Give makes a token for a program, and shows it once.
func (p *Page) Give(r *frame.Request) (frame.Answer, error) {
	name := r.Typed("program")
	token, err := p.register.Give(r.Context(), r.By(), name)
	field := newProgram(name)
	switch {
	case errors.Is(err, accounts.ErrTaken):
		field.Problems = []frame.Problem{{Says: "Another token is for this already.", Do: "Withdraw that one first, or say what tells them apart.", Grave: true}}
	case errors.Is(err, accounts.ErrBadGrant):
		field.Problems = []frame.Problem{{Says: "This does not say what the token is for.", Do: "Write 1 to 60 signs on one line.", Grave: true}}
	case err != nil:
		return frame.Answer{}, err
	}
	view, listErr := p.list(r)
	if listErr != nil {
		return frame.Answer{}, listErr
	}
	if err != nil {
		field.Focus = true
		view.Programs.Name = field
		return listPage.Again(title, view), nil
	}
	view.Programs.Token, view.Programs.For = token, name
	return listPage.Show(title, view), nil
}

// Withdraw ends the token of a program at once.
func (p *Page) Withdraw(r *frame.Request) (frame.Answer, error) {
	err := p.register.Withdraw(r.Context(), r.By(), r.Typed("program"))
	if errors.Is(err, accounts.ErrUnknown) {
		return frame.Answer{}, frame.Trouble{Status: http.StatusNotFound, Says: "There is no such token.", Do: "It may have been withdrawn already: the page People lists those that hold."}
	}
	if err != nil {
		return frame.Answer{}, err
	}
	return frame.Next("/people"), nil
}

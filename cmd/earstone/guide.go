package main

import (
	"context"
	"fmt"
	"strings"

	"earstone/pages/paper"
	"earstone/pages/words"
	"earstone/programme/label"
)

// guideTakes are the arguments of guide.
type guideTakes struct {
	Src    string `arg:"" optional:"" name:"SRC" help:"The programme, for its name and its general areas; without one the guide has neither."`
	Out    string `help:"The PDF to write." default:"guide.pdf" placeholder:"FILE"`
	Sheet  string `help:"Paper: a4, letter." enum:"a4,letter" default:"a4"`
	Prefix string `help:"Prefix of the label that is shown; without it that of the last kit." placeholder:"QB"`
}

func guide() command {
	var in guideTakes
	return command{
		name:    "guide",
		does:    "Print the leaflet on how to take out ear stones, one sheet folded once.",
		example: "earstone guide quarrow-banks --out guide.pdf --sheet letter",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.guide(ctx, to) },
	}
}

func (in *guideTakes) guide(_ context.Context, to *output) (status, error) {
	texts, _ := words.PrintedIn("en")
	g := paper.Guide{Sheet: paper.A4, Words: texts, About: paper.About{Title: texts.Say("guide.title"), Language: texts.Code, Made: to.clock()}}
	if in.Sheet == "letter" {
		g.Sheet = paper.Letter
	}
	prefix := in.Prefix
	if in.Src != "" {
		p, err := openProgramme(in.Src, to.today())
		if err != nil {
			return failed, err
		}
		defer p.close()
		g.Name = onPaper(to, "The programme's name", p.book.Settings.Name)
		for _, area := range paper.PublicAreas(p.book.Areas) {
			if onPaper(to, "The name of an area", area) != "" {
				g.Areas = append(g.Areas, area)
			}
		}
		prefix = prefixOf(in.Src, prefix)
	}
	if prefix == "" {
		prefix = "AB"
	}
	code, ok := label.New(prefix, 1)
	if !ok {
		return wrongUse, fmt.Errorf("--prefix %q: two to four letters of %s are taken", prefix, label.Letters)
	}
	g.Code = code
	content, err := g.Document().Bytes()
	if err != nil {
		return failed, err
	}
	if err := replace(in.Out, content); err != nil {
		return failed, err
	}
	to.say("The guide lies in %s: one sheet of %s, both sides, turned over the short edge; fold it once.", in.Out, strings.Replace(in.Sheet, "a4", "A4", 1))
	to.say("Read it before you hand it out: law and licence of your place come before it, and it can't know them.")
	return done, nil
}

package letter

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"

	"earstone/pages/paper"
	"earstone/programme/date"
)

var (
	//go:embed letters.html
	lettersPage string
	//go:embed style.css
	style string

	lettersTemplate = template.Must(template.New("letters").Parse(lettersPage))
)

// page is what the template of letters is filled with.
type page struct {
	Language, Direction, Title string
	Style                      template.CSS
	Letters                    []text
}

// Addressed is a letter with whom it goes to.
type Addressed struct {
	Letter
	To To
}

// HTML is one letter as a page without anything from outside: for mail, and to print.
func (s *Season) HTML(l Letter, to To, on date.Day) ([]byte, error) {
	return s.Batch([]Addressed{{l, to}}, on)
}

// Batch is several letters as one page, each on paper of its own, for a browser to print:
// whoever prints it sees them all, so it goes to nobody as it is. It takes the language
// of its first letter for its title.
func (s *Season) Batch(letters []Addressed, on date.Day) ([]byte, error) {
	p := page{Style: template.CSS(style + s.sheetRule())}
	for _, l := range letters {
		p.Letters = append(p.Letters, s.say(l.Letter, l.To, on))
	}
	if len(p.Letters) > 0 {
		p.Language, p.Direction, p.Title = p.Letters[0].Language, p.Letters[0].Direction, p.Letters[0].Title
	}
	var out bytes.Buffer
	if err := lettersTemplate.Execute(&out, p); err != nil {
		return nil, fmt.Errorf("laying out letters: %w", err)
	}
	return out.Bytes(), nil
}

// sheetRule tells a browser which paper the season is printed on.
func (s *Season) sheetRule() string {
	size := s.Sheet
	if size.Width == 0 {
		size = paper.A4
	}
	return fmt.Sprintf("@page { size: %gmm %gmm }\n", size.Width, size.Height)
}

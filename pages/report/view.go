package report

import "html/template"

// page is all that the templates see: text that is ready to be read.
type page struct {
	Title, Kicker, Programme, Standfirst string
	Style                                template.CSS
	Facts                                []fact
	Inputs                               *table
	Chapters                             []chapter
	Nothing                              string // said when there is no chapter
	Methods                              []entry
	Cautions                             []string
	Settings                             *table
	Foot                                 string
}

// fact is a name with its value.
type fact struct{ Name, Value string }

// chapter is a species.
type chapter struct {
	ID, Heading, Intro string
	Sections           []section
}

// section is one subject of a chapter.
type section struct {
	ID, Heading string
	Says        []string
	Notices     []notices
	Sets        []set
	Tables      []table
}

// set is pictures that belong together: one below the other, or two abreast.
type set struct {
	Heading  string
	Folded   string // what the fold that holds them is called; empty: none
	OffPaper string // said on paper in place of a fold that is not printed; empty: it is
	Abreast  bool
	Figures  []figure
}

// figure is a picture with the sentence that says what it shows and the table behind it.
type figure struct {
	ID, Label, Title string
	Says             string
	Picture          template.HTML
	Table            *table
}

// table is behind a fold. On paper it is shown when Paper is set; otherwise File names
// the result table that holds it.
type table struct {
	ID, Summary, Caption string
	Head                 []column
	Rows                 [][]string
	File                 string
	Paper                bool
}

// Short tells that the table fits on one sheet of paper.
func (t *table) Short() bool { return len(t.Rows) <= 25 }

// column is the head of a column.
type column struct {
	Name string
	Kind kind
}

// kind of a column says how it is set.
type kind string

const (
	amounts kind = ""           // to the right
	labels  kind = "words"      // to the left, never broken
	prose   kind = "words long" // to the left, in lines
)

func columns(of kind, names []string) (all []column) {
	for _, name := range names {
		all = append(all, column{name, of})
	}
	return all
}

// text, figures and sentences name columns of words, of numbers and of sentences.
func text(names ...string) []column      { return columns(labels, names) }
func figures(names ...string) []column   { return columns(amounts, names) }
func sentences(names ...string) []column { return columns(prose, names) }

// notices are things to know before the numbers are used, of one weight.
type notices struct {
	Heading string
	Warn    bool
	Items   []notice
}

// notice is a sentence with what follows from it.
type notice struct{ Says, More string }

// entry is a method in brief.
type entry struct {
	Heading string
	Says    []string
}

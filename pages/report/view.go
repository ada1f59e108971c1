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
	Notices     []notice
	Sets        []set
	Tables      []table
}

// set is pictures that belong together: one below the other, or two abreast.
type set struct {
	Heading string
	Folded  string // what the fold that holds them is called; empty: none
	Abreast bool
	Figures []figure
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

// column is the head of a column; Words are not set to the right as numbers are.
type column struct {
	Name  string
	Words bool
}

// notice is something to know before the numbers are used.
type notice struct {
	Kind  string // warning or note
	Label string // the same as a person reads it
	Says  string
	More  string
}

// entry is a method in brief.
type entry struct {
	Heading string
	Says    []string
}

// text and figures name columns of words and of numbers.
func text(names ...string) (columns []column) {
	for _, name := range names {
		columns = append(columns, column{name, true})
	}
	return columns
}

func figures(names ...string) (columns []column) {
	for _, name := range names {
		columns = append(columns, column{Name: name})
	}
	return columns
}

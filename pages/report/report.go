// Package report writes what a run found as one page that needs no network.
//
// The page is plain HTML with its style and pictures inside it and without a script. It
// is the same for the same outcome, reads on a telephone and on paper, and says every
// number in a sentence, in a picture and in a table.
package report

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// About is what the page tells of a run beside its outcome. What is empty is left out.
type About struct {
	Engine string // version
	Name   string // of the run, as it stands in run.json and in every row of the tables
	Made   string // the day on which the run was made, as a person reads it
	Inputs []Input
	Found  *finding.List // all that was found on the way; nil: what the run itself came upon
	Truth  Truth         // nil: not known
	Areas  []record.Area // names and outlines
}

// Input is a file that the run read.
type Input struct {
	File, SHA256 string
	Rows         int
	Bytes        int64
}

// Truth is the true catch in fish of an invented fishery, by species, year and kept age.
type Truth map[record.Species]map[int][]float64

// Write writes the page, without signs that act instead of being read, whatever a code or
// a name holds. An error is that of the writer.
func Write(w io.Writer, o *run.Outcome, about About) error {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, "page", tell(o, about)); err != nil {
		return fmt.Errorf("making the report: %w", err)
	}
	if _, err := io.WriteString(w, words.Plain(b.String())); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

//go:embed *.html style.css
var files embed.FS

var (
	templates = template.Must(template.ParseFS(files, "*.html"))
	sheet     = mustStyle()
)

func mustStyle() template.CSS {
	own, err := files.ReadFile("style.css")
	if err != nil {
		panic("report: " + err.Error())
	}
	return template.CSS(string(own) + chart.Style())
}

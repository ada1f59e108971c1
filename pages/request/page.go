package request

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"strconv"
	"time"

	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
)

//go:embed request.html style.css
var files embed.FS

var (
	requestTemplate = template.Must(template.ParseFS(files, "request.html"))
	sheet           = mustStyle()
)

func mustStyle() template.CSS {
	own, err := files.ReadFile("style.css")
	if err != nil {
		panic("request: " + err.Error())
	}
	return template.CSS(string(own) + chart.Style())
}

// About is what the page tells of a plan beside its tables.
type About struct {
	Programme string
	Made      string // the day, as a person reads it
	Bin       record.LengthBin
	AreaName  func(code string) string // nil: codes stand as they are
}

// page is what the template is given.
type page struct {
	About
	Style   template.CSS
	Species []told
}

// told is one species ready to be read.
type told struct {
	Code, Lengths string
	Items         []item
	Months        []month
	Says          string
	Picture       template.HTML
	CVs           [][4]string
	Reread        []Fish
	More          int // fish beyond those that are listed
}

type item struct{ Name, Today, Planned string }

// month is what to ask for in a month.
type month struct {
	Name  string
	Rows  []line
	Trips int
	Ear   int
}

// line is one place of a month.
type line struct {
	Area, Gear string
	Trips, Ear int
	Lengths    []length
}

type length struct {
	Bin string
	N   int
}

// mostReread is how many fish are listed on paper; rereading.csv has all.
const mostReread = 120

// HTML is the plan as a page without anything from outside and without a script.
func (p *Plan) HTML(about About) ([]byte, error) {
	view := page{About: about, Style: sheet}
	for _, s := range p.Species {
		view.Species = append(view.Species, s.tell(about))
	}
	var out bytes.Buffer
	if err := requestTemplate.Execute(&out, view); err != nil {
		return nil, fmt.Errorf("laying out a plan: %w", err)
	}
	return []byte(words.Plain(out.String())), nil
}

func (s *Species) tell(about About) told {
	t := told{Code: s.Code, Lengths: Lengths(about.Bin), Reread: s.Reread[:min(len(s.Reread), mostReread)], More: max(len(s.Reread)-mostReread, 0)}
	for i, name := range []string{"Trips, each with its measured lengths", "Ear stones", "Second readings"} {
		t.Items = append(t.Items, item{name, words.Count(s.Expected[i].Today), words.Count(s.Expected[i].Planned)})
	}
	for _, p := range s.Places {
		name := MonthName(p.Quarter, p.Month)
		if n := len(t.Months); n == 0 || t.Months[n-1].Name != name {
			t.Months = append(t.Months, month{Name: name})
		}
		m := &t.Months[len(t.Months)-1]
		l := line{Area: p.Area, Gear: p.Gear, Trips: p.Trips, Ear: p.Count()}
		if about.AreaName != nil && p.Area != "" {
			l.Area = about.AreaName(p.Area)
		}
		for _, b := range p.Stones {
			l.Lengths = append(l.Lengths, length{BinName(b.From, about.Bin), b.N})
		}
		m.Rows, m.Trips, m.Ear = append(m.Rows, l), m.Trips+l.Trips, m.Ear+l.Ear
	}
	t.Says, t.Picture = s.Promise()
	percent := func(x float64) string { return words.Figure(100*x, 0) }
	for _, c := range s.CVs {
		t.CVs = append(t.CVs, [4]string{strconv.Itoa(c.Age), percent(c.Wanted), percent(c.Today), percent(c.Planned)})
	}
	return t
}

// Promise draws the CVs that the plan promises, with the sentence that the picture says.
func (s *Species) Promise() (says string, picture template.HTML) {
	if len(s.CVs) == 0 {
		return "", ""
	}
	before, after := 0, 0
	pic := chart.Promised{}
	for _, c := range s.CVs {
		if c.Today <= c.Wanted {
			before++
		}
		if c.Planned <= c.Wanted {
			after++
		}
		pic.Rows = append(pic.Rows, chart.Promise{Name: "age " + strconv.Itoa(c.Age), Today: chart.Of(c.Today), Planned: chart.Of(c.Planned), Wanted: chart.Of(c.Wanted)})
	}
	ages := " ages are"
	if len(s.CVs) == 1 {
		ages = " age is"
	}
	says = fmt.Sprintf("With sampling as in the last season %d of %d%s as sure as wanted; with this plan %d would be.", before, len(s.CVs), ages, after)
	pic.Frame = chart.Frame{Title: "The CV of the number of fish at age, as now and as planned", Alt: says}
	return says, template.HTML(pic.Draw())
}

// Lengths says what lengths are of: cm, curved fork length.
func Lengths(bin record.LengthBin) string {
	kind := map[record.LengthKind]string{record.CurvedFork: "curved fork length", record.StraightFork: "straight fork length"}[bin.Kind]
	if kind == "" {
		return bin.Unit
	}
	return bin.Unit + ", " + kind
}

// BinName is a length bin: 150 to 160.
func BinName(from float64, bin record.LengthBin) string {
	figure := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	if !(bin.Width > 0) {
		return "from " + figure(from)
	}
	return figure(from) + "–" + figure(from+bin.Width)
}

// MonthName is a month, or what stands for it where months are not told apart.
func MonthName(quarter, month int) string {
	switch {
	case month >= 1 && month <= 12:
		return time.Month(month).String()
	case quarter >= 1 && quarter <= 4:
		return "Quarter " + strconv.Itoa(quarter) + ", any month"
	}
	return "Any month"
}

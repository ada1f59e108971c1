// Package back is the page of letters to those who sent fish.
//
// It lists who sent what and what can be told of it, opens each letter to print, and the
// notice of the season. Whoever does not want to be written to, or was never asked, has a
// line and no letter.
package back

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"io/fs"
	"net/http"
	"slices"
	"strconv"
	"time"

	"earstone/pages/letter"
	"earstone/pages/web/frame"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/store/book"
	"earstone/store/history"
	"earstone/store/jobs"
)

//go:embed back.html
var files embed.FS

var backPage = frame.Parse(frame.Back, files, "back.html")

// Page tells contributors what their fish told.
type Page struct {
	store history.Store
	queue jobs.Queue
	kind  string // of the runs in the queue
	told  func(fs.FS) (letter.Run, error)
	now   func() time.Time
}

// New is the page of a store and the runs of a kind in a queue; told reads what a run found
// from its results.
func New(store history.Store, queue jobs.Queue, kind string, told func(fs.FS) (letter.Run, error), now func() time.Time) *Page {
	return &Page{store, queue, kind, told, now}
}

// season is a year of fish with the last run that is done.
type season struct {
	*letter.Season
	book    *record.Book
	run     letter.Run
	ran     string // when; empty: there was no run
	year    int
	years   []int // with fish, the newest first
	senders map[record.FishID]string
}

// view is what the page shows.
type view struct {
	Year    int
	Years   []frame.Option
	Ran     string
	Rows    []row
	Letters int
	Nobody  int // fish of which nobody is known to have sent them
}

// row is a contributor with fish.
type row struct {
	Code, Language        string
	Fish, Aged, Nurseries int
	May                   string
	Letter                bool
}

// Show lists the contributors of a season.
func (p *Page) Show(r *frame.Request) (frame.Answer, error) {
	s, err := p.season(r)
	if err != nil {
		return frame.Answer{}, err
	}
	v := view{Year: s.year, Ran: s.ran}
	for _, year := range s.years {
		v.Years = append(v.Years, frame.Option{Value: strconv.Itoa(year), Text: strconv.Itoa(year), Chosen: year == s.year})
	}
	aged, called := map[record.FishID]bool{}, map[record.FishID]bool{}
	for _, a := range s.run.Ages {
		aged[a.Fish] = a.Age.Known
	}
	for _, o := range s.run.Origins {
		called[o.Fish] = true
	}
	at := map[string]int{}
	for i := range s.book.Contributors {
		c := &s.book.Contributors[i]
		at[c.Contributor] = len(v.Rows)
		v.Rows = append(v.Rows, row{Code: c.Contributor, Language: c.Language, Letter: c.ContactConsent == record.Yes, May: may(c.ContactConsent)})
	}
	for i := range s.book.Fish {
		f := &s.book.Fish[i]
		if letter.SeasonOf(f) != s.year {
			continue
		}
		j, known := at[s.senders[f.Fish]]
		if !known {
			v.Nobody++
			continue
		}
		v.Rows[j].Fish++
		if aged[f.Fish] {
			v.Rows[j].Aged++
		}
		if called[f.Fish] {
			v.Rows[j].Nurseries++
		}
	}
	v.Rows = slices.DeleteFunc(v.Rows, func(r row) bool { return r.Fish == 0 })
	for i := range v.Rows {
		if v.Rows[i].Letter {
			v.Letters++
		}
	}
	return backPage.Show("Report back", v), nil
}

func may(consent record.Truth) string {
	switch consent {
	case record.Yes:
		return "wants a letter"
	case record.No:
		return "wants none"
	}
	return "was not asked"
}

var errNoLetter = frame.Trouble{Status: http.StatusNotFound, Says: "There is no letter for this contributor.",
	Do: "Only who has fish in the season and said yes to being written to gets one."}

// Letter is the letter of one contributor, to print.
func (p *Page) Letter(r *frame.Request) (frame.Answer, error) {
	s, err := p.season(r)
	if err != nil {
		return frame.Answer{}, err
	}
	letters, _ := s.Letters()
	at := slices.IndexFunc(letters, func(l letter.Letter) bool { return l.Contributor == r.PathValue("contributor") })
	if at < 0 {
		return frame.Answer{}, errNoLetter
	}
	return apart(s.HTML(letters[at], letter.To{}, p.today()))
}

// Letters are all letters of a season, each on paper of its own.
func (p *Page) Letters(r *frame.Request) (frame.Answer, error) {
	s, err := p.season(r)
	if err != nil {
		return frame.Answer{}, err
	}
	letters, _ := s.Letters()
	if len(letters) == 0 {
		return frame.Answer{}, errNoLetter
	}
	var all []letter.Addressed
	for _, l := range letters {
		all = append(all, letter.Addressed{Letter: l})
	}
	return apart(s.Batch(all, p.today()))
}

// Notice is the season on one page, for a notice board; it names nobody.
func (p *Page) Notice(r *frame.Request) (frame.Answer, error) {
	s, err := p.season(r)
	if err != nil {
		return frame.Answer{}, err
	}
	return apart(s.NoticeHTML("en", nil, p.today()))
}

func apart(page []byte, err error) (frame.Answer, error) {
	if err != nil {
		return frame.Answer{}, err
	}
	return frame.Apart(page)
}

func (p *Page) today() date.Day {
	now := p.now()
	return date.On(now.Year(), int(now.Month()), now.Day())
}

// season reads the records, and the last run that is done.
func (p *Page) season(r *frame.Request) (*season, error) {
	ctx := r.Context()
	programme, err := book.Read(ctx, p.store)
	if err != nil {
		return nil, fmt.Errorf("reading the programme: %w", err)
	}
	records, err := programme.Book()
	if err != nil {
		return nil, fmt.Errorf("reading the programme: %w", err)
	}
	s := &season{book: records, senders: map[record.FishID]string{}}
	if s.run, s.ran, err = p.lastRun(ctx); err != nil {
		return nil, err
	}
	trips, years := map[record.TripID]string{}, map[int]bool{}
	for i := range records.Trips {
		trips[records.Trips[i].Trip] = records.Trips[i].Contributor
	}
	for i := range records.Fish {
		f := &records.Fish[i]
		s.senders[f.Fish] = cmp.Or(f.Contributor, trips[f.Trip])
		if year := letter.SeasonOf(f); year > 0 && !years[year] {
			years[year], s.years = true, append(s.years, year)
		}
	}
	slices.SortFunc(s.years, func(a, b int) int { return b - a })
	if s.year, _ = strconv.Atoi(r.Typed("year")); !years[s.year] { // another word than a year is none
		s.year = 0
		if len(s.years) > 0 {
			s.year = s.years[0]
		}
	}
	s.Season = letter.Gather(records, s.run, s.year)
	return s, nil
}

// lastRun is what the newest run found that is done and has ages.
func (p *Page) lastRun(ctx context.Context) (run letter.Run, ran string, err error) {
	all, err := p.queue.Jobs(ctx)
	if err != nil {
		return run, "", fmt.Errorf("reading the runs: %w", err)
	}
	for _, j := range all {
		if j.Kind != p.kind || j.State != jobs.Done {
			continue
		}
		folder, err := p.queue.Results(ctx, j.ID)
		if err != nil {
			return run, "", fmt.Errorf("opening a run: %w", err)
		}
		if _, err := fs.Stat(folder, "ages.csv"); err != nil {
			continue // it was asked for other parts alone
		}
		run, err = p.told(folder)
		return run, j.At.UTC().Format("2 January 2006"), err
	}
	return run, "", nil
}

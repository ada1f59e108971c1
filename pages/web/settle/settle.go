// Package settle is the page on which readers are held against each other until a fish has one age.
//
// All numbers come from the engine (agreement.For, age.Rules), as those of an estimate do. A reader
// whose control readings drift out of their limits counts as qualified again only from the
// day on which somebody says why; readings made meanwhile settle no age here. A joint
// reading is one more reading, by the reader "joint", not blind and said to be so.
package settle

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"earstone/pages/chart"
	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
	"earstone/reading/agreement"
	"earstone/store/book"
	"earstone/store/history"
	"earstone/store/pictures"
)

//go:embed settle.html fish.html
var files embed.FS

var (
	settlePage = frame.Parse(frame.Settle, files, "settle.html")
	fishPage   = frame.Parse(frame.Settle, files, "fish.html")
)

// Joint is the reader of joint readings.
const Joint = record.Joint

// Page settles ages.
type Page struct {
	store    history.Store
	desk     *form.Desk
	pictures *pictures.Folder
	now      func() time.Time
}

// New is the page of a store and its pictures.
func New(store history.Store, desk *form.Desk, folder *pictures.Folder, now func() time.Time) *Page {
	return &Page{store, desk, folder, now}
}

// state is what the readings of a programme say, as they stand.
type state struct {
	programme *book.Programme
	book      *record.Book
	reports   []agreement.Report // by species of the settings
	cleared   map[record.ReaderID]date.Day
	results   []age.Result     // by fish, from qualified readings
	qualified []record.Reading // those that settle ages; the results count in them
	held      map[record.ReaderID]date.Day
	agreed    map[string]history.Record // what was recorded, by fish
}

func (p *Page) read(ctx context.Context) (state, error) {
	s := state{cleared: map[record.ReaderID]date.Day{}, held: map[record.ReaderID]date.Day{}, agreed: map[string]history.Record{}}
	var err error
	if s.programme, err = book.Read(ctx, p.store); err != nil {
		return s, fmt.Errorf("reading the programme: %w", err)
	}
	if s.book, err = s.programme.Book(); err != nil {
		return s, fmt.Errorf("reading the programme: %w", err)
	}
	if err := p.store.Each(ctx, history.Clearances, func(r *history.Record) error {
		reader := record.ReaderID(r.Fields()["reader"])
		if on, ok := date.Parse(r.Fields()["on"]); ok && after(on, s.cleared[reader]) {
			s.cleared[reader] = on
		}
		return nil
	}); err != nil {
		return s, fmt.Errorf("reading which readers were cleared: %w", err)
	}
	if err := p.store.Each(ctx, history.Agreed, func(r *history.Record) error {
		kept := *r // the heads are good until the next record
		kept.Heads = slices.Clone(r.Heads)
		s.agreed[r.Fields()["fish"]] = kept
		return nil
	}); err != nil {
		return s, fmt.Errorf("reading the agreed ages: %w", err)
	}
	panel := age.NewPanel(s.book.Settings.Readers, s.book.Readings)
	for _, species := range s.book.Settings.Species {
		report := agreement.For(species, s.book.Settings.Calendars[species], panel, s.book.Fish, s.book.Readings)
		s.reports = append(s.reports, report)
		for _, d := range report.Drift {
			s.hold(d)
		}
	}
	s.qualified = slices.DeleteFunc(slices.Clone(s.book.Readings), s.unqualified)
	rules, _ := age.NewRules(s.book.Settings, s.book.Readings)
	s.results = rules.Each(s.book.Fish, s.qualified, s.book.KnownAges)
	return s, nil
}

// hold notes the first breach of a reader after the day to which the reader was cleared.
func (s *state) hold(d agreement.Drift) {
	for _, point := range d.Points {
		if on := point.On; point.Breach && after(on, s.cleared[d.Reader]) {
			if before, held := s.held[d.Reader]; !held || on.Before(before) {
				s.held[d.Reader] = on
			}
			return
		}
	}
}

// after tells whether a day lies after another; every day does after none.
func after(on, other date.Day) bool { return !other.Known() || other.Before(on) }

// unqualified tells a reading that was made on or after the day of a breach that nobody
// has resolved. A reading without a day may be older, and stands.
func (s *state) unqualified(r record.Reading) bool {
	from, held := s.held[r.Reader]
	return held && r.ReadAt.Known() && !r.ReadAt.Last().Before(from)
}

// view is the page of a programme's readers.
type view struct {
	Species  []ofSpecies
	Rule     string
	Waiting  int // ages that are not recorded as they now are
	Recorded string
	Said     string
}

type ofSpecies struct {
	Code      string
	Rows      []row
	Pictures  []picture
	Drift     []drift
	Disagreed []disagreement
	More      int
}

// row is one number of agreement.csv: shown rounded, and whole for whoever wants all of it.
type row struct {
	Pair  string
	Cells []cell
}

type cell struct{ Shown, Whole, Quantity, A, B string }

type picture struct {
	Title, Says string
	Drawn       template.HTML
}

type disagreement struct {
	Subject, Fish, Counts, Stands string
	spread                        float64
	open                          bool
}

const mostDisagreements = 200

// Show shows how readers agree, who drifts, and what wants settling.
func (p *Page) Show(r *frame.Request) (frame.Answer, error) {
	s, err := p.read(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	v := view{Rule: ruleSays(s.book.Settings.AgreedAge), Recorded: r.Typed("recorded"), Said: r.Typed("cleared"), Waiting: len(p.unrecorded(&s))}
	for _, report := range s.reports {
		one := ofSpecies{Code: string(report.Species), Rows: rows(report), Drift: s.drifts(report)}
		for i := range report.Pairs {
			one.Pictures = append(one.Pictures, biasOf(&report.Pairs[i]))
		}
		one.Disagreed = s.disagreements(report.Species)
		if over := len(one.Disagreed) - mostDisagreements; over > 0 {
			one.Disagreed, one.More = one.Disagreed[:mostDisagreements], over
		}
		v.Species = append(v.Species, one)
	}
	return settlePage.Show("Settle", v), nil
}

func ruleSays(rule record.AgreedAge) string {
	says := map[string]string{"median": "the median of the last reading by each qualified reader", "mode": "the age that most qualified readers give",
		"expert": "the last reading by " + string(rule.Expert)}[rule.Rule]
	if rule.Tie == "lower_reader" {
		return says + "; a tie goes to the reader listed first"
	}
	return says + "; a tie is read again"
}

// quantities are the columns of a pair, as agreement.csv names them.
var quantities = []string{"n", "ape", "cv", "exact", "within_1", "within_2", "mean_difference", "bowker_p", "evans_hoenig_p", "mcnemar_p"}

func rows(report agreement.Report) (all []row) {
	all = append(all, rowOf("All together", "", "", report.All, nil))
	for i := range report.Pairs {
		pair := &report.Pairs[i]
		all = append(all, rowOf(string(pair.ReaderA)+" and "+string(pair.ReaderB), string(pair.ReaderA), string(pair.ReaderB), pair.Summary, pair))
	}
	for i := range report.Self {
		pair := &report.Self[i]
		all = append(all, rowOf(string(pair.ReaderA)+" on two days", string(pair.ReaderA), string(pair.ReaderA), pair.Summary, pair))
	}
	return all
}

func rowOf(name, a, b string, s agreement.Summary, pair *agreement.Pair) row {
	numbers := map[string]record.Number{"n": record.Some(float64(s.ReadTwice)), "ape": s.APE, "cv": s.CV, "exact": s.Exact, "within_1": s.Within1, "within_2": s.Within2}
	if pair != nil {
		numbers["mean_difference"], numbers["bowker_p"] = pair.Difference.Mean, pair.Bowker.P
		numbers["evans_hoenig_p"], numbers["mcnemar_p"] = pair.EvansHoenig.P, pair.McNemar.P
	}
	one := row{Pair: name}
	for _, q := range quantities {
		c := cell{Shown: "–", Quantity: q, A: a, B: b}
		if x := numbers[q]; x.Known {
			digits := map[string]int{"n": 0, "ape": 2, "cv": 2, "mean_difference": 2, "bowker_p": 3, "evans_hoenig_p": 3, "mcnemar_p": 3}[q]
			c.Shown, c.Whole = words.Figure(x.X, digits), strconv.FormatFloat(x.X, 'g', -1, 64)
		}
		one.Cells = append(one.Cells, c)
	}
	return one
}

// biasOf is the age-bias picture of two readers.
func biasOf(pair *agreement.Pair) picture {
	a, b := string(pair.ReaderA), string(pair.ReaderB)
	title := "Mean count of " + b + " at each count of " + a
	pic := chart.AgeBias{Frame: chart.Frame{Title: title, Alt: title + ", with its interval of 95 %.", Level: 0.95}, ReaderA: a, ReaderB: b}
	for _, at := range pair.ByAge {
		point := chart.BiasPoint{Age: at.AgeA, Mean: at.MeanB, Fish: at.Difference.N}
		if low, high, ok := at.Interval(); ok {
			point.Interval = chart.Between(low, high)
		}
		pic.Points = append(pic.Points, point)
	}
	return picture{Title: title, Says: fmt.Sprintf("%s both read %s fish.", a+" and "+b, words.Count(pair.ReadTwice)), Drawn: template.HTML(pic.Draw())} // drawn by us from numbers; the chart escapes names
}

// disagreements are the fish whose last readings by different readers differ: those without
// an age first, then those whose counts lie farthest apart in proportion to their mean.
func (s *state) disagreements(species record.Species) (all []disagreement) {
	ids, of := age.ByFish(s.book.Readings)
	at := make(map[record.FishID]int, len(ids))
	for i, id := range ids {
		at[id] = i
	}
	panel := age.NewPanel(s.book.Settings.Readers, s.book.Readings)
	last := make([]int, len(panel.Readers))
	for i := range s.book.Fish {
		fish := &s.book.Fish[i]
		own, read := at[fish.Fish]
		if !read || fish.Species != species {
			continue
		}
		panel.Latest(last, s.book.Readings, of[own])
		var counts []float64
		var told []string
		for _, reading := range last {
			if reading >= 0 {
				one := &s.book.Readings[reading]
				counts = append(counts, float64(one.Annuli))
				told = append(told, fmt.Sprintf("%s %d", one.Reader, one.Annuli))
			}
		}
		if len(counts) < 2 || slices.Min(counts) == slices.Max(counts) {
			continue
		}
		sum := 0.0
		for _, n := range counts {
			sum += n
		}
		d := disagreement{Fish: string(fish.Fish), Subject: s.programme.Subject(history.Fish, fish.Row).String(), Counts: strings.Join(told, ", "),
			Stands: stands(&s.results[i]), open: !s.results[i].Class.Known(), spread: (slices.Max(counts) - slices.Min(counts)) * float64(len(counts)) / sum}
		all = append(all, d)
	}
	slices.SortStableFunc(all, func(a, b disagreement) int {
		if a.open != b.open {
			return map[bool]int{true: -1, false: 1}[a.open]
		}
		return cmp.Compare(b.spread, a.spread)
	})
	return all
}

// stands is what a fish's age is by the programme's rule.
func stands(r *age.Result) string {
	if !r.Class.Known() {
		return map[age.Trouble]string{age.NotRead: "no qualified reading", age.Unresolved: "no age yet, a tie", age.NoDate: "no day of capture",
			age.NoCalendar: "no calendar of its species"}[r.Trouble]
	}
	return "age " + strconv.Itoa(int(r.Class))
}

// unrecorded are the fish whose age is not recorded as it now is.
func (p *Page) unrecorded(s *state) (entries []*history.Entry) {
	for i := range s.book.Fish {
		if e := p.agreedEntry(s, i); e != nil {
			entries = append(entries, e)
		}
	}
	return entries
}

// agreedEntry is what is to be recorded of a fish's age; nil when it has none, or it stands
// recorded as it is.
func (p *Page) agreedEntry(s *state, i int) *history.Entry {
	fish, r := &s.book.Fish[i], &s.results[i]
	if !r.Class.Known() || len(r.Used) == 0 {
		return nil
	}
	var used []string
	for _, at := range r.Used {
		used = append(used, s.qualified[at].Reading)
	}
	f := history.Fields{"label": string(fish.Fish), "fish": string(fish.Fish), "rule": r.Rule, "age": strconv.Itoa(int(r.Class)),
		"cohort": strconv.Itoa(r.Cohort), "readings": strings.Join(used, ";")}
	if r.Annuli.Known {
		f["annuli"] = strconv.FormatFloat(r.Annuli.X, 'f', -1, 64)
	}
	if r.Decimal.Known {
		f["decimal_age"] = strconv.FormatFloat(r.Decimal.X, 'f', -1, 64)
	}
	e := &history.Entry{Kind: history.Agreed, Fields: f, When: p.now()}
	if was, there := s.agreed[string(fish.Fish)]; there {
		before := maps.Clone(was.Fields())
		delete(before, "on")
		if maps.Equal(before, f) {
			return nil
		}
		e.Subject, e.Why = was.Subject, "the readings, or the rule, are others now"
		for _, h := range was.Heads {
			e.Supersedes = append(e.Supersedes, h.ID)
		}
	}
	f["on"] = p.desk.Today().String()
	return e
}

// Record records all agreed ages as they now are.
func (p *Page) Record(r *frame.Request) (frame.Answer, error) {
	s, err := p.read(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	entries := p.unrecorded(&s)
	for _, e := range entries {
		e.Who = r.By()
	}
	if len(entries) > 0 {
		if err := p.store.Append(r.Context(), entries...); err != nil {
			return frame.Answer{}, fmt.Errorf("recording agreed ages: %w", err)
		}
	}
	return frame.Next("/settle?recorded=" + strconv.Itoa(len(entries))), nil
}

// Clear lets a reader who drifted count as qualified again, from today on and for the days
// of the breach, with the reason why.
func (p *Page) Clear(r *frame.Request) (frame.Answer, error) {
	reader, why := strings.TrimSpace(r.Typed("reader")), strings.TrimSpace(r.Typed("why"))
	if reader == "" || why == "" {
		return frame.Answer{}, frame.Trouble{Status: http.StatusUnprocessableEntity, Says: "Why does this reader count again?",
			Do: "Go back and say what was found: the preparations, the light, a talk over the controls."}
	}
	e := &history.Entry{Kind: history.Clearances, Who: r.By(), When: p.now(), Fields: history.Fields{"label": reader + " " + history.NewID().String(),
		"reader": reader, "on": p.desk.Today().String(), "remark": why}}
	if err := p.store.Append(r.Context(), e); err != nil {
		return frame.Answer{}, fmt.Errorf("keeping that a reader counts again: %w", err)
	}
	return frame.Next("/settle?cleared=" + reader), nil
}

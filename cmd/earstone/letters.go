package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"earstone/pages/letter"
	"earstone/pages/paper"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/store/tables"
)

// lettersTakes are the arguments of letters.
type lettersTakes struct {
	Src       string `arg:"" name:"SRC" help:"${src}"`
	Results   string `help:"The folder that estimate wrote." required:"" placeholder:"DIR"`
	Out       string `help:"Folder for the letters; what was written there before is kept when it is the same." required:"" placeholder:"DIR"`
	Year      int    `help:"The season; without it the latest with fish." placeholder:"YEAR"`
	On        string `help:"Day that the letters bear; today when left out." placeholder:"DATE"`
	Addresses string `help:"CSV file with contributor, name, address (lines parted by /); it is not kept." placeholder:"FILE"`
	Language  string `help:"Language of the notice." default:"en"`
	Sheet     string `help:"Paper: a4, letter." enum:"a4,letter" default:"a4"`
	Browser   string `help:"Browser that prints what the embedded faces can't: a program, auto, none." default:"auto"`
	JSON      bool   `help:"Print one JSON object a letter, and no progress."`
}

func letters() command {
	var in lettersTakes
	return command{
		name: "letters",
		does: "Write to each contributor what their fish told, and the season on one page.",
		example: "earstone letters quarrow-banks --results results --out letters\n" +
			"earstone letters quarrow-banks --results results --out letters --addresses addresses.csv --on 2032-02-01",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.letters(ctx, to) },
	}
}

func (in *lettersTakes) letters(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	j := &post{lettersTakes: in, to: to, on: to.today(), sheet: paper.A4}
	if in.Sheet == "letter" {
		j.sheet = paper.Letter
	}
	if in.On != "" {
		day, ok := date.Parse(in.On)
		if !ok || day.Precision() != date.Full {
			return wrongUse, fmt.Errorf("--on %q is no day: write 2032-02-01", in.On)
		}
		j.on = day
	}
	j.made = time.Date(j.on.Year(), time.Month(j.on.Month()), j.on.DayOfMonth(), 0, 0, 0, 0, time.UTC)
	if _, ok := words.PrintedIn(in.Language); !ok {
		return wrongUse, fmt.Errorf("--language %q: there are texts in %s", in.Language, strings.Join(words.PrintedLanguages(), ", "))
	}
	var err error
	if j.browser, err = findBrowser(in.Browser); err != nil {
		return wrongUse, err
	}
	for _, folder := range []string{in.Src, in.Results} {
		if within(folder, in.Out) {
			return wrongUse, fmt.Errorf("--out %s would mix letters with %s: choose another folder", in.Out, folder)
		}
	}
	return j.read(ctx)
}

// post is the letters of one season on their way.
type post struct {
	*lettersTakes
	to      *output
	on      date.Day
	made    time.Time
	sheet   paper.Size
	browser string

	season   *letter.Season
	names    map[string]string // by contributor, for the notice
	withheld letter.Withheld
	mail     []envelope
	kept     int // letters that were there already
}

// envelope is one letter with where it is written.
type envelope struct {
	letter.Addressed
	name  string // of its files, without the ending
	own   bool   // a PDF of its own; else it is in a batch for a browser
	batch string // its batch, when it is in one
}

// read reads records and results, and writes the letters.
func (j *post) read(ctx context.Context) (status, error) {
	j.to.begin("reading " + j.Src)
	p, err := openProgramme(j.Src, j.to.today())
	if err != nil {
		return failed, err
	}
	defer p.close()
	if p.findings().Of(finding.Error) > 0 {
		ended, err := j.to.findings(p.findings())
		if err == nil && !j.to.json {
			j.to.say("No letter was written: mend the errors first.")
		}
		return ended, err
	}
	run, err := readRun(os.DirFS(j.Results), j.Results)
	if err != nil {
		return wrongUse, err
	}
	addresses, err := readAddresses(j.Addresses)
	if err != nil {
		return wrongUse, err
	}
	if j.Year == 0 {
		j.Year = latest(p.book)
	}
	j.season = letter.Gather(p.book, run, j.Year)
	j.season.Sheet = j.sheet
	j.address(addresses)
	if err := j.write(ctx); err != nil {
		return failed, err
	}
	return j.tell()
}

// latest is the latest season with fish.
func latest(book *record.Book) (year int) {
	for i := range book.Fish {
		year = max(year, letter.SeasonOf(&book.Fish[i]))
	}
	return year
}

// address puts letters into envelopes: each with a name for its files that no other has,
// even where capitals and small letters are the same.
func (j *post) address(addresses map[string]letter.To) {
	j.names = map[string]string{}
	for contributor, to := range addresses {
		j.names[contributor] = to.Name
	}
	all, withheld := j.season.Letters()
	j.withheld = withheld
	taken, batches := map[string]int{}, map[string]int{}
	for _, l := range all {
		to := addresses[l.Contributor]
		e := envelope{Addressed: letter.Addressed{Letter: l, To: to}, name: safeName(l.Contributor), own: j.season.Printable(l, to, j.on)}
		fold := strings.ToLower(e.name)
		if taken[fold]++; taken[fold] > 1 {
			e.name += "~" + strconv.Itoa(taken[fold])
		}
		if !e.own {
			texts, _ := words.PrintedIn(l.Language)
			e.batch = fmt.Sprintf("%s-%03d", texts.Code, batches[texts.Code]/aBatch+1)
			batches[texts.Code]++
		}
		j.mail = append(j.mail, e)
	}
}

// aBatch is how many letters a browser prints at once.
const aBatch = 50

// The folders and files in the folder of letters.
const (
	indexFile   = "letters.csv"
	eachFolder  = "letters"
	printFolder = "to-print"
)

// files of a letter, as the index names them; pdf is empty when it has none of its own.
func (e envelope) files() (html, pdf string) {
	html = eachFolder + "/" + e.name + ".html"
	if e.own {
		return html, eachFolder + "/" + e.name + ".pdf"
	}
	return html, ""
}

// write writes everything. The index comes first, so that a letter that is there is
// always in it, and one that is owed to nobody any more can be taken away.
func (j *post) write(ctx context.Context) error {
	for _, folder := range []string{j.Out, filepath.Join(j.Out, eachFolder), filepath.Join(j.Out, printFolder)} {
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return fmt.Errorf("making the folder %s: %w", folder, err)
		}
	}
	if err := j.takeAway(); err != nil {
		return err
	}
	if err := j.index(); err != nil {
		return err
	}
	for i, e := range j.mail {
		if err := ctx.Err(); err != nil {
			return err
		}
		if tell := j.to.told(); tell != nil {
			tell("writing letters", i, len(j.mail))
		}
		if err := j.one(e); err != nil {
			return fmt.Errorf("the letter to %s: %w", e.Contributor, err)
		}
	}
	if err := j.batches(ctx); err != nil {
		return err
	}
	return j.notice(ctx)
}

// one writes a letter, unless it is there as it would be written. The page is written
// last: where it stands, the PDF stands.
func (j *post) one(e envelope) error {
	html, pdf := e.files()
	page, err := j.season.HTML(e.Letter, e.To, j.on)
	if err != nil {
		return err
	}
	if same(filepath.Join(j.Out, html), page) && (pdf == "" || there(filepath.Join(j.Out, pdf))) {
		j.kept++
		return nil
	}
	if pdf != "" {
		content, err := j.season.PDF(e.Letter, e.To, j.on, j.sheet, j.made).Bytes()
		if err != nil {
			return err
		}
		if err := replace(filepath.Join(j.Out, pdf), content); err != nil {
			return err
		}
	}
	return replace(filepath.Join(j.Out, html), page)
}

func same(path string, content []byte) bool {
	before, err := os.ReadFile(path)
	return err == nil && bytes.Equal(before, content)
}

func there(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// batches writes the letters that the embedded faces can't set into pages for a browser
// to print, and has it print them when there is one.
func (j *post) batches(ctx context.Context) error {
	var order []string
	of := map[string][]letter.Addressed{}
	for _, e := range j.mail {
		if e.own {
			continue
		}
		if of[e.batch] == nil {
			order = append(order, e.batch)
		}
		of[e.batch] = append(of[e.batch], e.Addressed)
	}
	for i, batch := range order {
		if tell := j.to.told(); tell != nil {
			tell("printing by the browser", i, len(order))
		}
		page, err := j.season.Batch(of[batch], j.on)
		if err != nil {
			return err
		}
		if err := j.byBrowser(ctx, filepath.Join(j.Out, printFolder, batch), page); err != nil {
			return err
		}
	}
	return nil
}

// byBrowser writes a page and, with a browser, a PDF of it beside it; both are kept when
// the page is the same.
func (j *post) byBrowser(ctx context.Context, base string, page []byte) error {
	if same(base+".html", page) && (j.browser == "" || there(base+".pdf")) {
		return nil
	}
	if err := os.Remove(base + ".pdf"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("taking an old print away: %w", err)
	}
	if err := replace(base+".html", page); err != nil {
		return err
	}
	if j.browser == "" {
		return nil
	}
	return printPage(ctx, j.browser, base+".html", base+".pdf")
}

// notice writes the season on one page.
func (j *post) notice(ctx context.Context) error {
	page, err := j.season.NoticeHTML(j.Language, j.names, j.on)
	if err != nil {
		return err
	}
	base := filepath.Join(j.Out, "notice")
	if !j.season.NoticePrintable(j.Language, j.names, j.on) {
		return j.byBrowser(ctx, base, page)
	}
	content, err := j.season.NoticePDF(j.Language, j.names, j.on, j.sheet, j.made).Bytes()
	if err != nil {
		return err
	}
	if err := replace(base+".pdf", content); err != nil {
		return err
	}
	return replace(base+".html", page)
}

// index is the table of letters: to whom, where, and how each is to be printed.
func (j *post) index() error {
	var out bytes.Buffer
	w := tables.NewWriter(&out)
	w.Row("contributor", "language", "written_in", "n_fish", "html", "pdf", "batch")
	for _, e := range j.mail {
		html, pdf := e.files()
		texts, _ := words.PrintedIn(e.Language)
		batch := ""
		if !e.own {
			batch = printFolder + "/" + e.batch
		}
		w.Row(e.Contributor, e.Language, texts.Code, strconv.Itoa(len(e.Fish)), html, pdf, batch)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("writing the index of letters: %w", err)
	}
	return replace(filepath.Join(j.Out, indexFile), out.Bytes())
}

// takeAway removes what an earlier command wrote and this one does not: a letter whose
// contributor has withdrawn, or a batch that is not needed.
func (j *post) takeAway() error {
	wanted := map[string]bool{}
	for _, e := range j.mail {
		html, pdf := e.files()
		wanted[html], wanted[pdf] = true, true
		if !e.own {
			wanted[printFolder+"/"+e.batch+".html"], wanted[printFolder+"/"+e.batch+".pdf"] = true, true
		}
	}
	var old []string
	err := eachRow(os.DirFS(j.Out), j.Out, indexFile, []string{"html", "pdf", "batch"}, func(r resultRow) {
		old = append(old, r.text("html"), r.text("pdf"))
		if batch := r.text("batch"); batch != "" {
			old = append(old, batch+".html", batch+".pdf")
		}
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, file := range old {
		if wanted[file] || !filepath.IsLocal(file) || filepath.Dir(file) == "." {
			continue
		}
		if err := os.Remove(filepath.Join(j.Out, file)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("taking away a letter that is not owed any more: %w", err)
		}
	}
	return nil
}

// letterObject is a letter as JSON.
type letterObject struct {
	Contributor string `json:"contributor"`
	Language    string `json:"written_in"`
	Fish        int    `json:"n_fish"`
	HTML        string `json:"html"`
	PDF         string `json:"pdf"`
	Batch       string `json:"batch"`
}

// tell says what was written, what was not, and what is left to do.
func (j *post) tell() (status, error) {
	batched, english := 0, 0
	for _, e := range j.mail {
		texts, ok := words.PrintedIn(e.Language)
		if !ok {
			english++
		}
		if !e.own {
			batched++
		}
		if j.to.json {
			html, pdf := e.files()
			if err := j.to.object(letterObject{e.Contributor, texts.Code, len(e.Fish), html, pdf, e.batch}); err != nil {
				return failed, err
			}
		}
	}
	if j.to.json {
		return done, nil
	}
	say := j.to.say
	if len(j.mail) == 0 {
		say("Season %d: no letter to write; the season on one page in %s.", j.Year, filepath.Join(j.Out, "notice.html"))
	} else {
		say("Season %d: %s in %s, %s and a page each; the season on one page in notice.pdf and notice.html.", j.Year,
			several(len(j.mail), "letter"), j.Out, several(len(j.mail)-batched, "PDF"))
	}
	if j.kept > 0 {
		say("%s stood there already and were left as they are.", words.Count(j.kept))
	}
	if batched > 0 && j.browser != "" {
		say("%s in scripts that the embedded faces lack were printed by %s: %s. Look at one before you post them: without a font of the script a browser prints empty boxes.", words.Count(batched), filepath.Base(j.browser), filepath.Join(j.Out, printFolder))
	} else if batched > 0 {
		say("%s in scripts that the embedded faces lack have no PDF, since no browser was found to print them: open the pages in %s in a browser that has their script and print them.",
			words.Count(batched), filepath.Join(j.Out, printFolder))
	}
	if !j.season.NoticePrintable(j.Language, j.names, j.on) && j.browser == "" {
		say("The notice has no PDF either: print notice.html from a browser.")
	}
	if english > 0 {
		say("%s in English, for want of texts in the contributor's language.", several(english, "letter"))
	}
	if n := j.withheld.Refused; n > 0 {
		say("%s with fish do not want to be written to, and got no letter.", several(n, "contributor"))
	}
	if n := j.withheld.Unasked; n > 0 {
		say("%s with fish got no letter, since contact_consent is not on record: ask them.", several(n, "contributor"))
	}
	return done, nil
}

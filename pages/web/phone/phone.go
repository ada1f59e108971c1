// Package phone takes in cards from a phone that had no network when they were written.
//
// The page lies on the phone. It keeps what is entered on the phone's own disk and sends
// it when there is a network, as often as it takes to hear that it was kept. There is no
// account: a kit's code lets a phone add cards with the labels of that kit, and nothing
// else. A phone makes the identity of a card, so that a card which is sent twice is kept
// once.
package phone

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"html/template"
	"io/fs"
	"net/http"
	"strings"
	"time"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/programme/label"
	"earstone/store/history"
	"earstone/store/pictures"
)

//go:embed files
var embedded embed.FS

// Path is where the page stands; all it loads lies beneath.
const Path = "/phone/"

// Site is what the page is for.
type Site struct {
	Programme string
	Store     history.Store
	Desk      *form.Desk
	Pictures  *pictures.Folder            // nil: photographs are not taken
	Kits      func() ([]label.Kit, error) // as they are now; nil: there are none
	Now       func() time.Time
	Address   func(*http.Request) string // where a request comes from
	// Due tells whether n more of a pace are due to somebody, and counts them; of none it
	// tells whether one would be.
	Due func(of Pace, who string, n int) bool
}

// Pace is something that may be done so often and not more.
type Pace string

// The paces: what a kit sends, what an address sends, and the codes that an address tries
// without having a kit.
const (
	OfKit     Pace = "cards of kit"
	OfAddress Pace = "cards from"
	OfGuesses Pace = "guesses from"
)

// Page is the phone page of a site.
type Page struct {
	Site
	files map[string]file
}

type file struct {
	content []byte
	kind    string
}

// kinds of the files by their ending.
var kinds = map[string]string{"html": "text/html; charset=utf-8", "js": "text/javascript; charset=utf-8", "css": "text/css; charset=utf-8",
	"json": "application/json", "webmanifest": "application/manifest+json", "png": "image/png", "svg": "image/svg+xml"}

// New is the page of a site.
func New(site Site) *Page {
	p := &Page{Site: site, files: map[string]file{}}
	names, err := fs.Glob(embedded, "files/*")
	if err != nil {
		panic("phone: " + err.Error())
	}
	for _, name := range names {
		content, err := embedded.ReadFile(name)
		if err != nil {
			panic("phone: " + err.Error())
		}
		p.put(strings.TrimPrefix(name, "files/"), content)
	}
	p.put("index.html", p.index())
	p.put("manifest.webmanifest", p.manifest())
	p.put("words.json", sayings())
	p.put("worker.js", p.worker())
	return p
}

func (p *Page) put(name string, content []byte) {
	p.files[name] = file{content, kinds[name[strings.LastIndexByte(name, '.')+1:]]}
}

// index is the page itself; its words are put in by the script, and are English before.
func (p *Page) index() []byte {
	english, _ := words.PrintedIn("en")
	say := func(key string) string { return english.Say("phone." + key) }
	t := template.Must(template.New("index.html").Funcs(template.FuncMap{"say": say}).Parse(string(p.files["index.html"].content)))
	var b bytes.Buffer
	if err := t.Execute(&b, p.Programme); err != nil {
		panic("phone: " + err.Error())
	}
	return b.Bytes()
}

// manifest is what a phone needs to install the page.
func (p *Page) manifest() []byte {
	type icon struct {
		Source  string `json:"src"`
		Sizes   string `json:"sizes"`
		Kind    string `json:"type"`
		Purpose string `json:"purpose"`
	}
	text, err := json.Marshal(struct {
		ID         string `json:"id"`
		Name       string `json:"name"`
		Short      string `json:"short_name"`
		Start      string `json:"start_url"`
		Scope      string `json:"scope"`
		Display    string `json:"display"`
		Background string `json:"background_color"`
		Theme      string `json:"theme_color"`
		Icons      []icon `json:"icons"`
	}{Path, p.Programme, "Ear stones", Path, Path, "standalone", "#fdfcf9", "#1c5f80",
		[]icon{{"icon-192.png", "192x192", "image/png", "any"}, {"icon-512.png", "512x512", "image/png", "any maskable"}}})
	if err != nil {
		panic("phone: " + err.Error())
	}
	return text
}

// sayings are the words of the page in every language there is.
func sayings() []byte {
	type language struct {
		Name      string            `json:"name"`
		RightLeft bool              `json:"rightleft"`
		Texts     map[string]string `json:"texts"`
	}
	all := map[string]language{}
	english, _ := words.PrintedIn("en")
	for _, code := range words.PrintedLanguages() {
		in, _ := words.PrintedIn(code)
		l := language{in.Name, in.RightLeft, map[string]string{}}
		for key := range english.Texts {
			if strings.HasPrefix(key, "phone.") || strings.HasPrefix(key, "label.") {
				l.Texts[key] = in.Say(key)
			}
		}
		all[code] = l
	}
	text, err := json.Marshal(all)
	if err != nil {
		panic("phone: " + err.Error())
	}
	return text
}

// worker names the files that the phone keeps, and their version: it changes with any of
// them, and the phone then fetches all of them anew.
func (p *Page) worker() []byte {
	sum, names := sha256.New(), []string{"./"}
	for _, name := range sortedNames(p.files) {
		_, _ = sum.Write(p.files[name].content) // a hash takes all
		if name != "worker.js" && name != "index.html" {
			names = append(names, name)
		}
	}
	list, err := json.Marshal(names)
	if err != nil {
		panic("phone: " + err.Error())
	}
	return []byte(strings.NewReplacer(`"VERSION"`, `"`+hex.EncodeToString(sum.Sum(nil)[:8])+`"`, "FILES", string(list)).Replace(string(p.files["worker.js"].content)))
}

// Begin leads to the page.
func (p *Page) Begin(*frame.Request) (frame.Answer, error) { return frame.Next(Path), nil }

// Index sends the page.
func (p *Page) Index(*frame.Request) (frame.Answer, error) { return p.send("index.html") }

// File sends a file that the page loads.
func (p *Page) File(r *frame.Request) (frame.Answer, error) { return p.send(r.PathValue("file")) }

func (p *Page) send(name string) (frame.Answer, error) {
	f, there := p.files[name]
	if !there {
		return frame.Answer{}, frame.NotThere
	}
	return frame.Send(f.kind, f.content), nil
}

// refusal is why something is not taken, as a word that the page has a sentence for.
type refusal struct {
	status int
	word   string
}

func (r refusal) Error() string { return r.word }

var (
	errForm      = refusal{http.StatusUnprocessableEntity, "form"}
	errCode      = refusal{http.StatusUnprocessableEntity, "code"}
	errNoKit     = refusal{http.StatusUnprocessableEntity, "no_kit"}
	errCancelled = refusal{http.StatusUnprocessableEntity, "cancelled"}
	errPace      = refusal{http.StatusTooManyRequests, "pace"}
	errLarge     = refusal{http.StatusRequestEntityTooLarge, "large"}
)

// answer tells a phone what became of what it sent.
func answer(view any, err error) (frame.Answer, error) {
	status := http.StatusOK
	var no refusal
	if errors.As(err, &no) {
		status, view = no.status, struct {
			Refused string `json:"refused"`
		}{no.word}
	} else if err != nil {
		return frame.Answer{}, err
	}
	text, err := json.Marshal(view)
	if err != nil {
		return frame.Answer{}, err
	}
	a := frame.Send("application/json", text)
	a.Status = status
	return a, nil
}

// read reads what a phone sent within the bound of its route.
func read(r *frame.Request, into any) error {
	if r.Header.Get("Content-Type") != "application/json" {
		return errForm
	}
	in := json.NewDecoder(r.Body)
	in.DisallowUnknownFields()
	err := in.Decode(into)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return errLarge
	case err != nil || in.More():
		return errForm
	}
	return nil
}

package frame

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"strings"

	"earstone/pages/chart"
	"earstone/store/accounts"
)

//go:embed layout.html field.html trouble.html
var layoutFiles embed.FS

//go:embed assets
var assetFiles embed.FS

// Page is the template of one page within the layout.
type Page struct {
	in    *template.Template
	stage Stage
}

// Parse reads the template of a page, which defines "body"; a mistake in it is ours.
func Parse(stage Stage, files fs.FS, names ...string) *Page {
	t := template.Must(template.New("layout.html").Funcs(template.FuncMap{"asset": assetPath}).ParseFS(layoutFiles, "layout.html", "field.html"))
	return &Page{template.Must(t.ParseFS(files, names...)), stage}
}

// Surroundings are what the layout shows around a page.
type Surroundings struct {
	Programme string
	Who       accounts.Person
	Solo      bool // one person at their own machine, without an account
	Flow      Flow
	Path      func(Stage) string // where the page of a stage stands, "" when not for this person
	Links     []Link             // pages beside the flow
	Seek      bool               // the box of Find is for this person
	Sought    string
}

// Link is a way to a page.
type Link struct{ Path, Name string }

// shown is what the layout's template is given.
type shown struct {
	Surroundings
	Title   string
	Band    []part
	View    any
	Refresh int
}

// Render draws an answer's page whole, before anything of it is sent.
func (s Surroundings) Render(a Answer) ([]byte, error) {
	var b bytes.Buffer
	err := a.Page.in.ExecuteTemplate(&b, "layout.html", shown{s, a.Title, s.Flow.parts(a.Stage, s.Path), a.View, a.Refresh})
	if err != nil {
		return nil, fmt.Errorf("drawing the page %q: %w", a.Title, err)
	}
	return b.Bytes(), nil
}

var troublePage = Parse(NoStage, layoutFiles, "trouble.html")

// OfTrouble is the page that tells of an error; known gives words to errors of a store.
func OfTrouble(err error, known func(error) (Trouble, bool)) Answer {
	t := troubleOf(err, known)
	a := troublePage.Show(t.Says, t)
	a.Status = t.Status
	return a
}

// assets are the files that pages load, by name; each is asked for by its hash, so that
// a browser keeps it until it changes.
var assets = loadAssets()

type asset struct {
	content    []byte
	kind, hash string
}

func loadAssets() map[string]asset {
	kinds := map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}
	all := map[string]asset{}
	entries, err := fs.ReadDir(assetFiles, "assets")
	if err != nil {
		panic("frame: " + err.Error())
	}
	for _, e := range entries {
		content, err := fs.ReadFile(assetFiles, "assets/"+e.Name())
		if err != nil {
			panic("frame: " + err.Error())
		}
		if e.Name() == "earstone.css" { // pictures look as in the report
			content = append(content, chart.Style()...)
		}
		sum := sha256.Sum256(content)
		all[e.Name()] = asset{content, kinds[e.Name()[strings.LastIndex(e.Name(), "."):]], hex.EncodeToString(sum[:6])}
	}
	return all
}

func assetPath(name string) (string, error) {
	a, ok := assets[name]
	if !ok {
		return "", fmt.Errorf("there is no asset %s", name)
	}
	return "/assets/" + a.hash + "/" + name, nil
}

// ServeAsset sends a file that pages load.
func ServeAsset(w http.ResponseWriter, r *http.Request) {
	a, ok := assets[r.PathValue("name")]
	if !ok || a.hash != r.PathValue("hash") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", a.kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(a.content) // the browser left: nobody to tell
}

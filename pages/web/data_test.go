package web

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/tables"
)

// loads asks as a program does, under a token.
func (p *place) loads(t testing.TB, token, path string) (int, string, http.Header) {
	t.Helper()
	v := p.visitor(t)
	r, err := http.NewRequest(http.MethodGet, p.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	return v.do(r)
}

// token is given by an administrator on the page People.
func (p *place) token(t testing.TB, admin *visitor, name string) string {
	t.Helper()
	status, body, h := admin.send("/programs", url.Values{"program": {name}})
	token := between(body, `<code class="token">`, "</code>")
	if status != http.StatusOK || token == "" || h.Get("Cache-Control") != "no-store" {
		t.Fatalf("giving a token answers %d, with the token %q, kept by %q", status, token, h.Get("Cache-Control"))
	}
	return token
}

// loaded is a programme with fish, a run, and an administrator who has given a token.
func loaded(t testing.TB) (p *place, admin *visitor, token string) {
	t.Helper()
	p = serving(t, "")
	p.season(t, 4)
	p.account(t, "mara", accounts.Administrator)
	admin = p.signedIn(t, "mara")
	p.run(t, admin, "7", jobs.Done)
	return p, admin, p.token(t, admin, "season report")
}

func TestTokenIsShownOnceAndCanBeWithdrawn(t *testing.T) {
	p, admin, token := loaded(t)
	if status, body, h := p.loads(t, token, "/data/fish.csv"); status != http.StatusOK || !strings.Contains(body, codeOf(1)) || h.Get("Content-Type") != "text/csv; charset=utf-8; header=present" {
		t.Errorf("a program with a token is answered with %d, %q", status, h.Get("Content-Type"))
	}
	_, body, _ := admin.ask("/people")
	if strings.Contains(body, token) || !strings.Contains(body, "season report") {
		t.Error("the page People shows a token again, or not that it holds")
	}
	for _, wrong := range []string{"", "x", token[:len(token)-1], token + "0"} {
		status, body, h := p.loads(t, wrong, "/data/fish.csv")
		var told struct{ Says, Do string }
		if err := json.Unmarshal([]byte(body), &told); err != nil || status != http.StatusUnauthorized || told.Do == "" || h.Get("WWW-Authenticate") != "Bearer" {
			t.Errorf("under the token %q a program is answered with %d: %s", wrong, status, body)
		}
	}
	if status, body, _ := admin.send("/programs", url.Values{"program": {"season report"}}); status != http.StatusUnprocessableEntity || len(problems(body)) != 1 {
		t.Errorf("a second token of one name gives %d and %q", status, problems(body))
	}
	if status, _, _ := admin.send("/programs/withdraw", url.Values{"program": {"season report"}}); status != http.StatusSeeOther {
		t.Errorf("withdrawing gives %d", status)
	}
	if status, _, _ := p.loads(t, token, "/data/fish.csv"); status != http.StatusUnauthorized {
		t.Errorf("a token that was withdrawn is answered with %d", status)
	}
}

// TestTokenReadsAndNothingElse: no route but those of data knows a token.
func TestTokenReadsAndNothingElse(t *testing.T) {
	p, _, token := loaded(t)
	for _, r := range (&server{Site: Site{Store: p.store, Accounts: p.register, Runs: p.runs}}).table() {
		if r.may == anyone || strings.HasPrefix(r.path, "/data/") && r.method == http.MethodGet {
			continue
		}
		path := strings.NewReplacer("{$}", "", "{fish}", p.fish(t, codeOf(1)), "{person}", "mara", "{step}", "cleaned").Replace(r.path)
		in, err := http.NewRequest(r.method, p.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		in.Header.Set("Authorization", "Bearer "+token)
		status, body, h := p.visitor(t).do(in)
		if status != http.StatusUnauthorized && !strings.HasPrefix(h.Get("Location"), "/sign-in?") || strings.Contains(body, codeOf(1)) {
			t.Errorf("%s %s under a program's token is answered with %d to %q", r.method, r.path, status, h.Get("Location"))
		}
	}
}

// description is what the test asks of the OpenAPI description.
type described struct {
	OpenAPI string
	Paths   map[string]map[string]struct {
		Parameters []struct {
			Name   string
			Schema struct{ Enum []string }
		}
		Responses map[string]struct{ Content map[string]any }
	}
}

// TestDescriptionIsTheRoutes: every route for programs is described, nothing else is, and
// what is described is there with the media types that it names.
func TestDescriptionIsTheRoutes(t *testing.T) {
	p, _, token := loaded(t)
	_, body, _ := p.loads(t, token, "/data/openapi.json")
	var d described
	if err := json.Unmarshal([]byte(body), &d); err != nil || d.OpenAPI != "3.1.0" {
		t.Fatalf("the description is no OpenAPI 3.1.0 (%v): %s", err, body)
	}
	var routes, paths []string
	for _, r := range (&server{Site: Site{Store: p.store, Accounts: p.register}}).table() {
		if r.forPrograms() {
			routes = append(routes, strings.ReplaceAll(r.path, "{file}", "{table}.{form}"))
		}
	}
	for path := range d.Paths {
		paths = append(paths, path)
	}
	slices.Sort(routes)
	slices.Sort(paths)
	if !slices.Equal(routes, paths) {
		t.Errorf("the routes for programs are\n%v, and described are\n%v", routes, paths)
	}
	for path, methods := range d.Paths {
		get := methods["get"]
		if len(methods) != 1 || len(get.Responses["200"].Content) == 0 {
			t.Errorf("%s is described with %d methods, want that of reading alone, with what comes of it", path, len(methods))
		}
		choices := map[string][]string{"run": {"latest"}, "table": {"catch_at_age"}, "form": {""}}
		for _, a := range get.Parameters {
			if len(a.Schema.Enum) > 0 {
				choices[a.Name] = a.Schema.Enum
			}
		}
		for _, table := range choices["table"] {
			for _, form := range choices["form"] {
				at := strings.NewReplacer("{run}", "latest", "{table}", table, "{form}", form).Replace(path)
				status, body, h := p.loads(t, token, at)
				kind, _, _ := strings.Cut(h.Get("Content-Type"), ";")
				if _, told := get.Responses["200"].Content[kind]; status != http.StatusOK || !told || body == "" {
					t.Errorf("%s gives %d as %q, and the description names %v", at, status, kind, get.Responses["200"].Content)
				}
			}
		}
	}
	for _, form := range tables.Forms() {
		if !strings.Contains(body, `"`+form+`"`) {
			t.Errorf("the description does not name the form %s", form)
		}
	}
	for _, none := range []string{"/data/nothing.csv", "/data/fish.xlsx", "/data/fish", "/data/..%2faccounts.sqlite.csv", "/data/runs/latest/nothing.csv", "/data/runs/none/catch_at_age.csv", "/data/runs/latest/..%2fjob.json", "/data/runs/..%2f../catch_at_age.csv"} {
		if status, body, _ := p.loads(t, token, none); status != http.StatusNotFound || !json.Valid([]byte(body)) {
			t.Errorf("%s gives %d: %.100s", none, status, body)
		}
	}
}

// TestFormulasAreHarmless: what a spreadsheet would reckon is a text in CSV, and stands as
// it was written in JSON.
func TestFormulasAreHarmless(t *testing.T) {
	p, _, token := loaded(t)
	const formula = `=HYPERLINK("http://evil.example","x")`
	p.keep(t, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": codeOf(50), "species": "BFT", "remark": formula}})
	_, body, _ := p.loads(t, token, "/data/fish.csv")
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := slices.Index(rows[0], "remark")
	if got := rows[len(rows)-1][column]; got != "'"+formula {
		t.Errorf("the remark stands in the CSV as %q, want an apostrophe before it", got)
	}
	_, body, _ = p.loads(t, token, "/data/fish.json")
	var fish []map[string]any
	if err := json.Unmarshal([]byte(body), &fish); err != nil || fish[len(fish)-1]["remark"] != formula {
		t.Errorf("the remark stands in the JSON as %v (%v)", fish[len(fish)-1]["remark"], err)
	}
}

// TestDataIsLoadedByR loads a table and a result as the page Data shows it.
func TestDataIsLoadedByR(t *testing.T) {
	r, err := exec.LookPath("Rscript")
	if err != nil {
		t.Skip("THERE IS NO R HERE, so that no table is loaded by it: install r-base-core for this test.")
	}
	p, _, token := loaded(t)
	script := fmt.Sprintf(`token <- Sys.getenv("EARSTONE_TOKEN")
fish <- read.csv(url("%[1]s/data/fish.csv", headers = c(Authorization = paste("Bearer", token))))
run <- read.csv(url("%[1]s/data/runs/latest/catch_at_age.csv", headers = c(Authorization = paste("Bearer", token))))
cat(nrow(fish), mean(fish$length), run$value[run$quantity == "number" & run$area == "" & run$age == 5][1])
`, p.URL)
	cmd := exec.Command(r, "--vanilla", "-e", script)
	cmd.Env = append(os.Environ(), "EARSTONE_TOKEN="+token)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	// By hand: 4 fish of 160 + 7i cm, i = 1 to 4, so 177.5 on average; 1 000 + the seed 7.
	if want := "4 177.5 1007"; err != nil || strings.TrimSpace(string(out)) != want {
		t.Errorf("R reads %q (%v, %s), want %q", out, err, complaints.String(), want)
	}
}

// TestPageOfDataSaysWhatIsThere: the page for people names every table, and its addresses
// are good.
func TestPageOfDataSaysWhatIsThere(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 2)
	v := p.visitor(t)
	if _, body, _ := v.ask("/data"); !strings.Contains(body, "No run is done yet") {
		t.Error("the page of data does not say that there is no run")
	}
	p.run(t, v, "7", jobs.Done)
	_, body, _ := v.ask("/data")
	if !strings.Contains(body, p.URL+"/data/fish.csv") {
		t.Error("the page of data does not show how a program asks here")
	}
	for _, part := range strings.Split(body, `href="/data/`)[1:] {
		path, _, _ := strings.Cut(part, `"`)
		if status, _, _ := v.ask("/data/" + path); status != http.StatusOK {
			t.Errorf("the page of data leads to /data/%s, which gives %d", path, status)
		}
	}
}

// TestSlowProgramHoldsUpNobody: one that reads nothing of what it asked for kept the
// records from all others.
func TestSlowProgramHoldsUpNobody(t *testing.T) {
	p, _, token := loaded(t)
	t.Setenv("TMPDIR", t.TempDir())
	in := httptest.NewRequest(http.MethodGet, "/data/fish.csv", nil)
	in.Host = "localhost"
	in.Header.Set("Authorization", "Bearer "+token)
	slow := &stuck{ResponseRecorder: httptest.NewRecorder(), began: make(chan struct{}), goOn: make(chan struct{})}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		p.Config.Handler.ServeHTTP(slow, in)
	}()
	<-slow.began
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	other, err := http.NewRequestWithContext(ctx, http.MethodGet, p.URL+"/data/fish.csv", nil)
	if err != nil {
		t.Fatal(err)
	}
	other.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(other)
	if err != nil {
		t.Errorf("while a slow program is sent a table, another gets none: %v", err)
	} else {
		answer.Body.Close()
	}
	close(slow.goOn)
	<-ended
	if left, err := filepath.Glob(filepath.Join(os.TempDir(), "earstone-table-*")); err != nil || len(left) > 0 {
		t.Errorf("after the tables were sent %d files of them are left (%v)", len(left), err)
	}
}

// stuck is a connection whose other end reads nothing until it may go on.
type stuck struct {
	*httptest.ResponseRecorder
	began, goOn chan struct{}
	once        sync.Once
}

func (s *stuck) Write(part []byte) (int, error) {
	s.once.Do(func() { close(s.began) })
	<-s.goOn
	return s.ResponseRecorder.Write(part)
}

package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"earstone/pages/web/estimate"
	"earstone/pages/web/plan"
	"earstone/store/jobs"
)

// slow is the seed of a run that goes on until it is stopped.
const slow = "99"

// runsIn is the queue of a programme, whose runs give the same small results with a number
// that depends on the seed.
func runsIn(t testing.TB, dir string) *jobs.Folder {
	t.Helper()
	q, err := jobs.Open(filepath.Join(dir, "runs"), map[string]jobs.Work{estimate.Kind: smallRun, plan.Kind: smallPlan}, time.Now, slog.New(slog.NewTextHandler(io.Discard, nil)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(q.Close)
	return q
}

func smallRun(ctx context.Context, j jobs.Job, folder string, progress jobs.Progress) ([]string, error) {
	var asked estimate.Asked
	if err := json.Unmarshal(j.Asked, &asked); err != nil {
		return nil, err
	}
	progress("replicates", 320, asked.Replicates)
	switch fmt.Sprint(asked.Seed) {
	case slow:
		<-ctx.Done()
		return nil, ctx.Err()
	case "13":
		return nil, jobs.Refused{"The records hold errors, so nothing was estimated: 1 error.", "fish.csv, row 812, length: 2l4 is not a number."}
	}
	n := 1000 + asked.Seed
	young := ""
	for age, fish := range []uint64{1: 400, 2: 1600, 3: 2600 + asked.Seed/5, 4: 1900} {
		if age > 0 {
			young += fmt.Sprintf("BFT,2025,,,,,%[1]d,false,number,%[2]d,90,%[3]d,%[4]d,0.95,12,60,0.25\nBFT,2025,,,,,%[1]d,false,share,%[5]g,0.02,0.01,0.5,0.95,12,60,0.25\nBFT,2025,,,,,%[1]d,false,mean_length,%[6]d,2,60,175,0.95,12,60,0.25\n",
				age, fish, fish*8/10, fish*13/10, float64(fish)/9500, 60+25*age)
		}
	}
	files := map[string]string{
		"catch_at_age.csv": "species,year,quarter,month,area,gear,age,plus,quantity,value,se,low,high,level,n_trips,n_stones,filled_share\n" + young +
			fmt.Sprintf("BFT,2025,,,,,5,false,number,%d,90,%d,%d,0.95,12,60,0.25\nBFT,2025,,,,,5,false,share,0.4,0.02,0.3,0.5,0.95,12,60,0.25\nBFT,2025,,,,,5,false,mean_length,171.2,2,168,175,0.95,12,60,0.25\n", n, n-187, n+183) +
			"BFT,2025,,,,,6,true,number,2000,,,,0.95,12,60,0.25\nBFT,2025,,,,,,,unaged_number,40,,,,0.95,12,60,0.25\nBFT,2025,2,,Skell,,5,false,number,300,50,200,410,0.95,4,20,0\n",
		"mortality.csv":     "species,year,method,quantity,value,se,low,high,level,n_trips,n_stones,filled_share\nBFT,2025,chapman_robson,z,0.52,0.05,0.42,0.63,0.95,12,60,\n",
		"composition.csv":   "species,year,quarter,area,age,nursery,method,value,se,low,high,level,n_trips,n_stones,filled_share\nBFT,,,,,Upper,likelihood,0.81,0.05,0.7,0.91,0.95,0,198,\n",
		"beneath_fish.csv":  fmt.Sprintf("species,year,quarter,month,area,gear,age,fish,trip,length,length_unit,length_kind,rule\nBFT,2025,2,6,Skell,line,5,%s,T-1,171,cm,curved_fork,median\nBFT,2025,2,6,Skell,line,7,%s,T-1,190,cm,curved_fork,median\nBFT,2025,3,7,Quarrow,,8,%s,,201,cm,curved_fork,median\n", codeOf(1), codeOf(2), codeOf(3)),
		"beneath_trips.csv": "species,year,quarter,month,area,gear,trip,measured,aged\nBFT,2025,2,6,Skell,line,T-1,62,2\nBFT,2025,3,7,'=Dunmarrow,line,T-2,40,0\n",
		"report.html":       "<!DOCTYPE html><html lang=\"en\"><head><title>Report</title><style>h1 { color: rgb(1, 2, 3) }</style></head><body><h1>The report</h1></body></html>",
	}
	for name, text := range files {
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return nil, err
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666); err != nil {
			return nil, err
		}
	}
	return []string{"The estimates rest on 12 trips."}, nil
}

// run starts a run of a seed and waits until it has a state; its address.
func (p *place) run(t testing.TB, v *visitor, seed string, want jobs.State) string {
	t.Helper()
	status, body, h := v.send("/estimate", url.Values{"replicates": {"1 000"}, "seed": {seed}})
	if status != http.StatusSeeOther {
		t.Fatalf("starting a run gives %d: %s", status, problems(body))
	}
	at := h.Get("Location")
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); {
		j, err := p.runs.Job(context.Background(), strings.TrimPrefix(at, "/estimate/"))
		if err != nil {
			t.Fatal(err)
		}
		if j.State == want && (want != jobs.Running || j.Of > 0) {
			return at
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatalf("the run of seed %s is not %s within 10 seconds", seed, want)
	return ""
}

func TestRunIsStartedWatchedAndStopped(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	at := p.run(t, v, slow, jobs.Running)
	_, body, _ := v.ask(at)
	for _, want := range []string{"replicates: 320 of 1\u202f000", `<progress max="1000" value="320"`, `<noscript><meta http-equiv="refresh" content="3">`, "watch.js", "Stop this run", "seed 99", "mara"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page of a run at work does not hold %q", want)
		}
	}
	next := p.run(t, v, "1", jobs.Waiting)
	if _, body, _ := v.ask(next); !strings.Contains(body, "waits for the one before it") {
		t.Error("the page of a run that waits does not say so")
	}
	if status, _, h := v.send(at+"/stop", nil); status != http.StatusSeeOther || h.Get("Location") != at {
		t.Errorf("stopping gives %d to %q", status, h.Get("Location"))
	}
	p.is(t, at, jobs.Stopped)
	p.is(t, next, jobs.Done)
	if _, body, _ := v.ask(at); !strings.Contains(body, "was stopped") || !strings.Contains(body, "Do it again") || strings.Contains(body, "watch.js") {
		t.Error("the page of a stopped run does not say so, or goes on looking")
	}
	if status, _, _ := v.ask(at + "/report"); status != http.StatusNotFound {
		t.Errorf("the report of a stopped run gives %d, want %d", status, http.StatusNotFound)
	}
}

// is waits until a run has a state.
func (p *place) is(t testing.TB, at string, want jobs.State) {
	t.Helper()
	var j jobs.Job
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); time.Sleep(time.Millisecond) {
		if j, _ = p.runs.Job(context.Background(), strings.TrimPrefix(at, "/estimate/")); j.State == want {
			return
		}
	}
	t.Fatalf("the run %s is %s after 10 seconds, want %s", at, j.State, want)
}

func TestNumbersOpenOntoFish(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 3)
	v := p.visitor(t)
	at := p.run(t, v, "7", jobs.Done)
	_, body, _ := v.ask(at)
	for _, want := range []string{"Catch at age of BFT, 2025", ">1\u202f007</a>", "820 to 1\u202f190", "40.0 %", "171.2", "25.0 % of it rests on strata without samples", "40 fish lie at lengths that no key reaches", "6&#43;", "0.52", "Share of Upper, likelihood", "rest on 12 trips"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page of a run does not hold %q", want)
		}
	}
	beneath := at + "/beneath?" + url.Values{"place": {"BFT|2025||||"}, "age": {"5"}}.Encode()
	_, body, _ = v.ask(beneath)
	if !strings.Contains(body, codeOf(1)) || strings.Contains(body, codeOf(2)) || !strings.Contains(body, "3 aged fish lie at this place") || !strings.Contains(body, "T-2") || !strings.Contains(body, "=Dunmarrow") || strings.Contains(body, "&#39;=Dunmarrow") {
		t.Errorf("beneath age 5 lies %s", between(body, "<main", "</main>"))
	}
	_, body, _ = v.ask(at + "/beneath?" + url.Values{"place": {"BFT|2025||||"}, "age": {"6"}, "plus": {"true"}}.Encode())
	if strings.Contains(body, codeOf(1)) || !strings.Contains(body, codeOf(2)) || !strings.Contains(body, codeOf(3)) {
		t.Error("beneath the group of age 6 and more lie not the fish of 7 and 8")
	}
	_, body, _ = v.ask(at + "/beneath?" + url.Values{"place": {"BFT|2025|2||Skell|"}, "age": {"5"}}.Encode())
	if !strings.Contains(body, codeOf(1)) || strings.Contains(body, "T-2") || !strings.Contains(body, "2 aged fish lie at this place") {
		t.Error("beneath a number of one stratum lie fish or trips of another")
	}
	if status, _, h := v.ask(between(body, `class="label"><a href="`, `"`)); status != http.StatusSeeOther || h.Get("Location") != "/fish/"+p.fish(t, codeOf(1)) {
		t.Errorf("a fish beneath a number leads to %q with %d", h.Get("Location"), status)
	}
	for _, none := range []string{"/beneath", "/beneath?place=BFT|2025||||&age=77", "/beneath?place=BFT|1999||||&age=5", "/beneath?place=x&age=5"} {
		if status, _, _ := v.ask(at + strings.ReplaceAll(none, "|", "%7C")); status != http.StatusNotFound {
			t.Errorf("%s gives %d, want %d", none, status, http.StatusNotFound)
		}
	}
}

func TestTwoRunsSideBySide(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	if status, _, _ := v.ask("/estimate/compare"); status != http.StatusNotFound {
		t.Errorf("comparing with no run there gives %d, want %d", status, http.StatusNotFound)
	}
	first := p.run(t, v, "7", jobs.Done)
	second := p.run(t, v, "507", jobs.Done)
	_, body, _ := v.ask("/estimate/compare?" + url.Values{"a": {first[10:]}, "b": {second[10:]}}.Encode())
	// By hand: at age 5 1 507 less 1 007 is 500, half as many again; at age 3 2 701 less
	// 2 601 is 100, 3.8 per cent; the other six are the same.
	for _, want := range []string{"1\u202f007", "1\u202f507", "+500", "+100", "the same", "2 of 8 numbers", `<svg`} {
		if !strings.Contains(strings.ReplaceAll(body, "&#43;", "+"), want) {
			t.Errorf("the comparison does not hold %q: %s", want, between(body, "<tbody", "</tbody>"))
		}
	}
	if strings.Contains(body, "style=") {
		t.Error("the comparison holds a style of its own, which our policy forbids")
	}
}

func TestRunThatCantBeHad(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	for _, wrong := range []url.Values{{"replicates": {"12"}}, {"replicates": {"lots"}}, {"seed": {"-1"}}, {"key": {"best"}}} {
		status, body, _ := v.send("/estimate", wrong)
		if status != http.StatusUnprocessableEntity || len(problems(body)) != 1 || !strings.Contains(body, "<details open>") {
			t.Errorf("asking for %v gives %d and %q", wrong, status, problems(body))
		}
	}
	if all, _ := p.runs.Jobs(context.Background()); len(all) != 0 {
		t.Errorf("%d runs were started by forms that were refused", len(all))
	}
	at := p.run(t, v, "13", jobs.Failed)
	if _, body, _ := v.ask(at); !strings.Contains(body, "gave no result") || !strings.Contains(body, "2l4 is not a number") {
		t.Error("the page of a run that was refused does not say why")
	}
	for _, none := range []string{"/estimate/none", "/estimate/..%2f..%2fetc", "/estimate/none/report", "/estimate/none/beneath"} {
		if status, _, _ := v.ask(none); status != http.StatusNotFound {
			t.Errorf("%s gives %d, want %d", none, status, http.StatusNotFound)
		}
	}
}

// TestReportStandsApart: the report carries its style inside it, and may do nothing else.
func TestReportStandsApart(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	status, body, h := v.ask(p.run(t, v, "7", jobs.Done) + "/report")
	policy := h.Get("Content-Security-Policy")
	// SHA-256 of the style by openssl dgst -sha256 -binary | base64.
	const hash = "cD6QZsLgCJT9XFrrCuYhd6JlWQ7U0e9EbZlIbZYAXkk="
	if status != http.StatusOK || !strings.Contains(body, "The report") || !strings.Contains(policy, "style-src 'sha256-"+hash+"'") {
		t.Errorf("the report is sent with %d under %q, want the hash %s", status, policy, hash)
	}
	for _, part := range []string{"default-src 'none'", "sandbox", "frame-ancestors 'none'"} {
		if !strings.Contains(policy, part) {
			t.Errorf("the policy of the report, %q, lacks %s", policy, part)
		}
	}
	if strings.Contains(policy, "allow-") || strings.Contains(policy, "script-src") || strings.Contains(policy, "unsafe") {
		t.Errorf("the policy of the report allows more than its style: %q", policy)
	}
}

// TestReaderSeesNoRun: what a run says of lengths, days and places would unblind a count.
func TestReaderSeesNoRun(t *testing.T) {
	p := serving(t, "mara")
	at := p.run(t, p.visitor(t), "7", jobs.Done)
	p.account(t, "mara", everybody)
	p.account(t, "odd", reads)
	v := p.signedIn(t, "odd")
	for _, path := range []string{"/estimate", at, at + "/report", at + "/beneath?place=BFT%7C2025%7C%7C%7C%7C&age=5", "/estimate/compare", "/data", "/data/fish.csv", "/data/runs.json", "/data/runs/latest/beneath_fish.csv"} {
		status, body, _ := v.ask(path)
		if status != http.StatusForbidden || strings.Contains(body, codeOf(1)) || strings.Contains(body, "171") {
			t.Errorf("a reader who asks for %s is answered with %d", path, status)
		}
	}
	if _, body, _ := v.ask("/read"); strings.Contains(body, `href="/estimate`) || strings.Contains(body, `href="/data`) {
		t.Error("the band shows a reader the way to the estimates")
	}
}

func TestRunSurvivesTheServer(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	finished, at := p.run(t, v, "7", jobs.Done), p.run(t, v, slow, jobs.Running)
	p.runs.Close()
	again := runsIn(t, p.dir)
	for id, want := range map[string]jobs.State{finished: jobs.Done, at: jobs.Left} {
		if j, err := again.Job(context.Background(), id[10:]); err != nil || j.State != want {
			t.Errorf("after the server ended the run %s is %s (%v), want %s", id, j.State, err, want)
		}
	}
}

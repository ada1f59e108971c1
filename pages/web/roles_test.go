package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"earstone/store/accounts"
	"earstone/store/jobs"
)

// allowed is who may take each route, written here a second time and by hand: a change
// of the table must be meant.
var allowed = map[string]string{
	"GET /{$}":                            "coordinator, bench, reader, analyst, administrator",
	"GET /sign-in":                        "anyone",
	"POST /sign-in":                       "anyone",
	"GET /account":                        "coordinator, bench, reader, analyst, administrator",
	"POST /account":                       "coordinator, bench, reader, analyst, administrator",
	"POST /sign-out":                      "coordinator, bench, reader, analyst, administrator",
	"GET /intake":                         "coordinator, bench",
	"POST /intake":                        "coordinator, bench",
	"GET /intake/table":                   "coordinator, bench",
	"POST /intake/table":                  "coordinator, bench",
	"GET /bench":                          "coordinator, bench",
	"GET /bench/{step}":                   "coordinator, bench",
	"POST /bench/{step}":                  "coordinator, bench",
	"GET /read":                           "coordinator, reader, analyst",
	"POST /read":                          "reader",
	"POST /read/deal":                     "coordinator, analyst",
	"GET /read/{sitting}":                 "reader",
	"GET /read/{sitting}/tray":            "coordinator, bench",
	"GET /read/{sitting}/{ticket}":        "reader",
	"POST /read/{sitting}/{ticket}":       "reader",
	"POST /read/{sitting}/{ticket}/work":  "reader",
	"POST /read/{sitting}/{ticket}/along": "reader",
	"GET /read/{sitting}/{ticket}/tile/{level}/{col}/{row}": "reader",
	"GET /settle":                   "coordinator, analyst",
	"POST /settle":                  "coordinator, analyst",
	"POST /settle/readers":          "coordinator, analyst",
	"GET /settle/{fish}":            "coordinator, analyst",
	"POST /settle/{fish}":           "coordinator, analyst",
	"POST /settle/{fish}/reference": "coordinator, analyst",
	"GET /settle/{fish}/tile/{picture}/{level}/{col}/{row}": "coordinator, analyst",
	"GET /bench/pictures":            "coordinator, bench",
	"POST /bench/pictures":           "coordinator, bench",
	"GET /find":                      "coordinator, bench, analyst",
	"GET /fish":                      "coordinator, bench, analyst",
	"GET /fish/{fish}":               "coordinator, bench, analyst",
	"GET /fish/{fish}/correct":       "coordinator, bench",
	"POST /fish/{fish}/correct":      "coordinator, bench",
	"GET /back":                      "coordinator, analyst, administrator",
	"GET /back/letters":              "coordinator, analyst, administrator",
	"GET /back/letter/{contributor}": "coordinator, analyst, administrator",
	"GET /back/notice":               "coordinator, analyst, administrator",
	"GET /plan":                      "coordinator, analyst, administrator",
	"POST /plan":                     "coordinator, analyst, administrator",
	"GET /plan/print":                "coordinator, analyst, administrator",
	"GET /estimate":                  "coordinator, analyst, administrator",
	"POST /estimate":                 "coordinator, analyst, administrator",
	"GET /estimate/compare":          "coordinator, analyst, administrator",
	"GET /estimate/{run}":            "coordinator, analyst, administrator",
	"POST /estimate/{run}/stop":      "coordinator, analyst, administrator",
	"POST /estimate/{run}/again":     "coordinator, analyst, administrator",
	"GET /estimate/{run}/report":     "coordinator, analyst, administrator",
	"GET /estimate/{run}/beneath":    "coordinator, analyst, administrator",
	"GET /data":                      "coordinator, bench, analyst, administrator",
	"GET /data/openapi.json":         "coordinator, bench, analyst, administrator",
	"GET /data/{file}":               "coordinator, bench, analyst",
	"GET /data/runs.json":            "coordinator, analyst, administrator",
	"GET /data/runs/{run}/{file}":    "coordinator, analyst, administrator",
	"POST /programs":                 "administrator",
	"POST /programs/withdraw":        "administrator",
	"GET /phone":                     "anyone",
	"GET /phone/{$}":                 "anyone",
	"GET /phone/{file}":              "anyone",
	"POST /phone/kit":                "anyone",
	"POST /phone/cards":              "anyone",
	"POST /phone/photographs":        "anyone",
	"GET /photographs/{photograph}":  "coordinator, bench, analyst",
	"GET /people":                    "administrator",
	"POST /people":                   "administrator",
	"GET /people/{person}":           "administrator",
	"POST /people/{person}":          "administrator",
	"POST /people/{person}/password": "administrator",
	"POST /people/{person}/sessions": "administrator",
}

// nobody signs in, and is tried beside every role.
const nobody = "nobody"

func TestEveryRouteForEveryRole(t *testing.T) {
	p := serving(t, "")
	p.season(t, 3)
	p.account(t, "administrator", accounts.Administrator)
	p.account(t, "victim", accounts.Bench)
	visitors := map[string]*visitor{nobody: p.visitor(t)}
	for _, role := range accounts.Each() {
		if role != accounts.Administrator {
			p.account(t, role.String(), role)
		}
		visitors[role.String()] = p.signedIn(t, role.String())
	}
	run := strings.TrimPrefix(p.run(t, visitors["administrator"], "7", jobs.Done), "/estimate/")
	fill := strings.NewReplacer("{$}", "", "{run}", run, "{file}", "fish.csv", "{fish}", p.fish(t, codeOf(1)), "{person}", "victim", "{step}", "cleaned")
	seen := map[string]bool{}
	for _, r := range (&server{Site: Site{Store: p.store, Accounts: p.register}}).table() {
		line := r.method + " " + r.path
		seen[line] = true
		who, listed := allowed[line]
		if !listed {
			t.Errorf("the route %s is not in the list of this test: say who may take it", line)
		}
		for name, v := range visitors {
			if line == "POST /sign-out" && name != nobody {
				v = p.signedIn(t, name) // it must not end the session of the rest of the test
			}
			v.holds(r, fill.Replace(r.path), name, who == "anyone" || strings.Contains(who, name))
		}
	}
	for line := range allowed {
		if !seen[line] {
			t.Errorf("this test lists the route %s, which is not in the table", line)
		}
	}
}

// holds asks for a route and tells when the answer is not that of somebody who may, or
// may not.
func (v *visitor) holds(r route, path, name string, may bool) {
	v.t.Helper()
	var status int
	var body string
	var h http.Header
	if r.method == http.MethodGet {
		status, body, h = v.ask(path)
	} else {
		status, body, h = v.send(path, url.Values{})
	}
	refused := status == http.StatusForbidden || status == http.StatusUnauthorized && r.path != "/sign-in" ||
		status == http.StatusSeeOther && strings.HasPrefix(h.Get("Location"), "/sign-in?")
	if refused == may || status >= 500 {
		v.t.Errorf("%s %s by %s gives %d to %q, though may is %v", r.method, path, name, status, h.Get("Location"), may)
	}
	if secret := codeOf(1); !may && strings.Contains(body, secret) {
		v.t.Errorf("%s %s refuses %s and shows %s all the same", r.method, path, name, secret)
	}
}

// TestReaderLearnsNothing: what a count must not know is on no page that a reader gets.
func TestReaderLearnsNothing(t *testing.T) {
	p := serving(t, "")
	p.season(t, 4)
	p.account(t, "mara", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	v := p.signedIn(t, "odd")
	id := p.fish(t, codeOf(2))
	for _, path := range []string{"/", "/intake", "/intake?after=" + id, "/intake/table", "/bench", "/bench/weighed?kept=" + codeOf(2), "/find", "/find?q=" + codeOf(2),
		"/find?q=skell", "/fish?label=" + codeOf(2), "/fish/" + id, "/fish/" + id + "/correct", "/people", "/nowhere", "/assets/../fish/" + id, "//fish/" + id, "/fish/%2e%2e/" + id} {
		status, body, h := v.ask(path)
		for _, secret := range []string{codeOf(2), "Skell", "Dunmarrow", "-06-", "174", "curved"} {
			if strings.Contains(body, secret) || strings.Contains(h.Get("Location"), secret) && !strings.Contains(path, secret) {
				t.Errorf("a reader who asks for %s is told %q", path, secret)
			}
		}
		if redirected := status == http.StatusMovedPermanently || status == http.StatusTemporaryRedirect; redirected {
			continue // to the same page under its plain address, which stands in this list as well
		}
		if strings.Contains(body, `href="/fish`) || strings.Contains(body, `href="/intake`) || strings.Contains(body, `action="/find`) {
			t.Errorf("the page %s shows a reader the way to what blinds", path)
		}
	}
}

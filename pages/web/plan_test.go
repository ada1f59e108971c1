package web

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"earstone/pages/web/plan"
	"earstone/programme/record"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
)

// smallPlan asks for stones of fish of the season's first months at three banks.
func smallPlan(_ context.Context, _ jobs.Job, folder string, _ jobs.Progress) ([]string, error) {
	for name, text := range map[string]string{
		"quotas.csv": "species,quarter,month,area,gear,item,length,number\n" +
			"BFT,,1,Skell,line,trip,,4\nBFT,,1,Skell,line,stone,170,1\nBFT,,1,Skell,line,stone,180,3\nBFT,,12,Quarrow,,stone,200,2\nBFT,,12,Quarrow,,trip,,2\n",
		"rereading.csv":    "species,fish,age,readings,unresolved,influence\n",
		"predicted_cv.csv": "species,quantity,age,want_cv,resampled_cv,today_cv,planned_cv\nBFT,catch_at_age,7,0.15,0.2,0.18,0.14\nBFT,catch_at_age,9,0.15,0.3,0.28,0.22\n",
		"worth.csv":        "species,quarter,month,area,gear,item,length,today,obtainable,planned,cost,gain,gain_by_cost\nBFT,,,Skell,line,trip,,3,6,4,240,0.2,0.0008\nBFT,,,Skell,,stone,180,2,9,3,40,0.1,0.0032\n",
		plan.Printed:       "<!doctype html><title>Plan</title><style>h1 { color: rgb(1, 2, 3) }</style><h1>What to ask for</h1>",
	} {
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return nil, err
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666); err != nil {
			return nil, err
		}
	}
	return nil, nil
}

// plans makes a plan by the page and waits until it is there.
func (p *place) plans(t testing.TB, v *visitor) string {
	t.Helper()
	if status, body, _ := v.send("/plan", nil); status != http.StatusSeeOther {
		t.Fatalf("asking for a plan gives %d: %s", status, problems(body))
	}
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); {
		if _, body, _ := v.ask("/plan"); strings.Contains(body, "Made on") {
			return body
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("the plan is not made within ten seconds")
	return ""
}

// caughtNow keeps a fish of this season.
func (p *place) caughtNow(t testing.TB, n int, month, area, gear, length string) *history.Entry {
	t.Helper()
	e := &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": codeOf(n), "species": "BFT", "caught_on": time.Now().Format("2006") + "-" + month + "-03",
		"area": area, "gear": gear, "length": length, "length_unit": "cm", "length_kind": record.Defaults().LengthBin.Kind.String()}}
	p.keep(t, e)
	return e
}

// TestQuotasBesideWhatCame: the page counts this season's fish into the quotas they were
// asked for, and takes out one that was removed.
func TestQuotasBesideWhatCame(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	if _, body, _ := v.ask("/plan"); !strings.Contains(body, "Make a plan") || strings.Contains(body, "Made on") {
		t.Error("before there is a plan the page does not ask for one")
	}
	p.caughtNow(t, 1, "01", "Skell", "line", "172")
	p.caughtNow(t, 2, "01", "Skell", "", "183")
	p.caughtNow(t, 3, "01", "Dunmarrow", "line", "184")
	p.caughtNow(t, 4, "02", "Skell", "line", "184")
	body := p.plans(t, v)
	row := body[strings.Index(body, "Skell"):]
	row = row[:strings.Index(row, "</tr>")]
	for _, said := range []string{`class="figure">2</td><td class="figure">4</td>`, "2 short", "<b>2</b> of 180"} {
		if time.Now().Month() == time.January {
			said = strings.Replace(said, "2 short", "2 to come", 1)
		}
		if !strings.Contains(row, said) {
			t.Errorf("of January at Skell the page does not say %q: %s", said, row)
		}
	}
	if !strings.Contains(row, `class="figure">25</td><td class="figure">100</td>`) { // 0.0008 and 0.0032 of 0.0032
		t.Errorf("one more trip and one more ear stone are worth something else than 25 and 100: %s", row)
	}
	for _, said := range []string{"open until 31 December", "with this plan 1 would be", `href="/plan/print"`, "local law and licence"} {
		if !strings.Contains(body, said) && !(said == "open until 31 December" && time.Now().Month() != time.December && strings.Contains(body, "opens on 1 December")) {
			t.Errorf("the page does not say %q", said)
		}
	}
	status, page, h := v.ask("/plan/print")
	if status != http.StatusOK || !strings.Contains(page, "<h1>What to ask for</h1>") || !strings.Contains(h.Get("Content-Security-Policy"), "sandbox") {
		t.Errorf("the list to print gives %d under the policy %q", status, h.Get("Content-Security-Policy"))
	}
}

// TestPlanIsNotForReaders: quotas tell lengths, days and places.
func TestPlanIsNotForReaders(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	p.account(t, "kit", accounts.Analyst)
	p.plans(t, p.signedIn(t, "kit"))
	v := p.signedIn(t, "odd")
	for _, path := range []string{"/plan", "/plan/print"} {
		if status, body, _ := v.ask(path); status != http.StatusForbidden || strings.Contains(body, "Skell") {
			t.Errorf("a reader who asks for %s gets %d", path, status)
		}
	}
	if _, body, _ := v.ask("/"); strings.Contains(body, `href="/plan"`) {
		t.Error("the band shows a reader the way to the plan")
	}
}

package web

import (
	"context"
	"encoding/json"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"earstone/pages/pagetest"
	"earstone/plan/section"
	"earstone/reading/sitting"
	"earstone/reading/transect"
	"earstone/store/history"
)

// drawnAt is the work of a reader at the first turn of a sitting who saw what was drawn, but
// for its last two annuli.
func drawnAt(t testing.TB, s sitting.Sitting, drawn []section.Section) (ticket, work string) {
	t.Helper()
	for i, one := range drawn {
		if s.Turns[0].Preparation != codeOf(i+1)+"-L1" {
			continue
		}
		type mark struct {
			X float64 `json:"x"`
			Y float64 `json:"y"`
		}
		var marks []mark
		for _, at := range one.Places[:max(1, len(one.Places)-2)] {
			marks = append(marks, mark{at.X, at.Y})
		}
		text, err := json.Marshal(map[string]any{"axis": one.Clicked, "closed": true, "marks": marks, "edge": "partial", "readability": "4"})
		must0(t, err)
		return s.Turns[0].Ticket, string(text)
	}
	t.Fatal("the first turn is of no section that was drawn")
	return "", ""
}

// marked marks the third fish as ada and bo saw it, who lie one annulus apart.
func (p *place) marked(t testing.TB, one section.Section) (subject string) {
	t.Helper()
	for r, who := range []string{"ada", "bo"} {
		add := func(order int, kind string, at transect.Point) {
			p.keep(t, &history.Entry{Kind: history.Marks, Fields: history.Fields{"reading": who + "-3", "order": strconv.Itoa(order), "kind": kind,
				"x_px": strconv.FormatFloat(at.X, 'f', 1, 64), "y_px": strconv.FormatFloat(at.Y, 'f', 1, 64)}})
		}
		add(0, "core", one.Clicked[0])
		for i, at := range one.Places[:max(1, len(one.Places)-1+r)] {
			add(i+1, "annulus", transect.Point{X: at.X + float64(3*r), Y: at.Y})
		}
		add(len(one.Places)+1, "edge", one.Clicked[len(one.Clicked)-1])
	}
	return p.fish(t, codeOf(3))
}

// TestReadingPagesCanBeUsedByEverybody holds the pages of reading and settling as
// TestPagesCanBeUsedByEverybody does the others.
func TestReadingPagesCanBeUsedByEverybody(t *testing.T) {
	p := serving(t, "mara")
	quiet := here
	quiet.quiet = true
	quiet.counts = ""
	drawn := p.sections(t, 8, quiet)
	p.readers(t, 8)
	twice := p.marked(t, drawn[2])
	s := p.sitting(t, "S-test", "mara", 8, true)
	ticket, work := drawnAt(t, s, drawn)
	v := p.visitor(t)
	if status, _, _ := v.send("/read/S-test/"+ticket+"/work", url.Values{"work": {work}}); status != 200 {
		t.Fatalf("keeping the work at a turn is answered with %d", status)
	}
	_, _, h := v.send("/read/deal", url.Values{"reader": {"mara"}, "choose": {"again"}, "most": {"5"}, "controls": {"0"}, "how": {"glass"},
		"named": {codeOf(1) + "-L1 " + codeOf(2) + "-L1 " + codeOf(4) + "-L1"}})
	glass := "/read/" + strings.TrimPrefix(h.Get("Location"), "/read?dealt=")
	ctx := pagetest.Browse(t, refused)
	for _, s := range []scene{
		{"read", at("/read")},
		{"section", func(t *testing.T, ctx context.Context, base string) {
			pagetest.Do(t, ctx, chromedp.Navigate(base+"/read/S-test"))
			until(t, ctx, axisSet)
		}},
		{"microscope", at(glass)},
		{"tray", at(glass + "/tray")},
		{"pictures", at("/bench/pictures")},
		{"settle", at("/settle")},
		{"settle-fish", at("/settle/" + twice)},
	} {
		pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), pagetest.Prefers("light"))
		s.open(t, ctx, p.URL)
		for _, look := range []struct {
			suffix, scheme string
			width          int64
		}{{"", "light", 1200}, {"-dark", "dark", 1200}, {"-380", "light", 380}} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(look.width, 900), pagetest.Prefers(look.scheme))
			p.judge(t, ctx, s.name+look.suffix)
			if *update && (look.suffix == "" || s.name == "section") {
				picture(t, ctx, s.name+look.suffix)
			}
		}
	}
}

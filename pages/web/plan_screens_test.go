package web

import (
	"testing"

	"github.com/chromedp/chromedp"

	"earstone/pages/pagetest"
)

// TestPagesOfPlansAndLettersCanBeUsedByEverybody: the guidelines, dark and narrow, of what
// to ask for and of what is told back.
func TestPagesOfPlansAndLettersCanBeUsedByEverybody(t *testing.T) {
	p := serving(t, "mara")
	p.senders(t)
	p.caughtNow(t, 11, "01", "Skell", "line", "172")
	p.caughtNow(t, 12, "01", "Skell", "", "183")
	ctx := pagetest.Browse(t)
	for _, s := range []scene{{"plan-none", at("/plan")}, {"plan", at("/plan")}, {"back", at("/back?year=2025")}, {"back-none", at("/back")}} {
		if s.name == "plan" {
			p.plans(t, p.visitor(t))
		}
		pagetest.Do(t, ctx, chromedp.EmulateViewport(1200, 900), pagetest.Prefers("light"))
		s.open(t, ctx, p.URL)
		for _, look := range []struct {
			suffix, scheme string
			width          int64
		}{{"", "light", 1200}, {"-dark", "dark", 1200}, {"-380", "light", 380}} {
			pagetest.Do(t, ctx, chromedp.EmulateViewport(look.width, 900), pagetest.Prefers(look.scheme))
			p.judge(t, ctx, s.name+look.suffix)
			if *update && s.name != "plan-none" && s.name != "back-none" && (look.suffix != "-dark" || s.name == "plan") {
				picture(t, ctx, s.name+look.suffix)
			}
		}
	}
}

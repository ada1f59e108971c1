package report

import (
	"strings"
	"testing"

	"earstone/programme/record"
)

// Control signs and those that turn the direction of text act on whoever shows a page;
// they never reach it, in its title no more than in its pictures.
func TestSignsThatActNeverReachThePage(t *testing.T) {
	const acts = "Quar\x1b[31mrow\a\u202e\u2066"
	o := ran(t, func(b *record.Book) {
		oneFish(b)
		b.Settings.Name, b.Settings.Readers = acts, []record.ReaderID{acts}
		b.Trips[0].Gear, b.Catches[0].Gear, b.Fish[0].Gear, b.Readings[0].Reader = acts, acts, acts, acts
	}, oneLength())
	page := write(t, o, About{Engine: acts, Name: acts, Made: acts})
	if at := strings.IndexAny(page, "\x1b\a\u202e\u2066"); at >= 0 {
		t.Errorf("the page holds %q", page[max(at-40, 0):at+20])
	}
	if !strings.Contains(page, "Quar[31mrow") {
		t.Error("the page does not show the name")
	}
}

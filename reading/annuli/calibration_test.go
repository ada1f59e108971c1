package annuli

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"sync"
	"testing"

	"earstone/plan/section"
)

var update = flag.Bool("update", false, "write docs/suggestions.md and its picture anew")

// trial is what came of the suggestions for many sections of known count.
type trial struct {
	sections, exact, within int
	counts, marks           reliability
	groups                  [len(groupNames)]group
}

// reliability holds, by tenths of the stated probability, how many there were, what was
// said in all and how many came true.
type reliability [10]struct{ n, said, came float64 }

type group struct{ n, exact, within, off float64 }

var groupNames = [...]string{"1 to 4", "5 to 8", "9 to 12", "13 to 16", "17 to 22"}

func (r *reliability) add(said float64, came bool) {
	b := &r[min(int(said*10), 9)]
	b.n++
	b.said += said
	if came {
		b.came++
	}
}

// miscalibration is the mean over all of |said − came| of the tenth that each is in.
func (r *reliability) miscalibration() float64 {
	sum, n := 0.0, 0.0
	for _, b := range r {
		sum += math.Abs(b.said - b.came)
		n += b.n
	}
	return sum / n
}

func (x *trial) add(s Suggestion, l Lesson) {
	x.sections++
	off := len(s.Marks) - len(l.Marks)
	g := &x.groups[min((len(l.Marks)-1)/4, len(groupNames)-1)]
	g.n++
	g.off += float64(off)
	if off == 0 {
		x.exact++
		g.exact++
	}
	if off >= -1 && off <= 1 {
		x.within++
		g.within++
	}
	x.counts.add(s.Confidence, off == 0)
	for i, m := range s.Marks {
		x.marks.add(m.Confidence, right(s.Marks, i, l))
	}
}

// right tells whether there is an annulus within 60 µm of a mark and nearer than half
// way to its neighbours.
func right(marks []Mark, i int, l Lesson) bool {
	near := 60 / l.Section.UmPerPixel
	if i > 0 {
		near = min(near, (marks[i].At-marks[i-1].At)/2)
	}
	if i+1 < len(marks) {
		near = min(near, (marks[i+1].At-marks[i].At)/2)
	}
	for _, at := range l.Marks {
		if math.Abs(at-marks[i].At) <= near {
			return true
		}
	}
	return false
}

// suggested is the trial of sections 0 to n − 1 of a seed.
func suggested(t *testing.T, seed uint64, n int) trial {
	t.Helper()
	suggestions, truths := make([]Suggestion, n), make([]Lesson, n)
	var team sync.WaitGroup
	for c := range 2 {
		team.Go(func() {
			w := NewWork(Default())
			for i := c; i < n; i += 2 {
				l := lesson(seed, i, section.Settings{UmPerPixel: 5})
				s, err := w.Suggest(l.Section)
				if err != nil {
					t.Errorf("Nothing is suggested for section %d: %v", i, err)
				}
				l.Section.Band = nil
				suggestions[i], truths[i] = s, l
			}
		})
	}
	team.Wait()
	var x trial
	for i := range n {
		x.add(suggestions[i], truths[i])
	}
	return x
}

// Nobody looked at these 500 sections while the method was made: Default was learnt on others,
// and choices were made on others again.
func TestSuggestionsOnUnseenSections(t *testing.T) {
	sections := 500
	if testing.Short() {
		sections = 200
	}
	x := suggested(t, testSeed, sections)
	n := float64(x.sections)
	exact, within := float64(x.exact)/n, float64(x.within)/n
	t.Logf("exact %.3f, within one %.3f; off by %.3f in the confidence of counts, %.3f in that of marks",
		exact, within, x.counts.miscalibration(), x.marks.miscalibration())
	if exact < 0.70 || within < 0.90 {
		t.Errorf("Of %d sections %.1f %% are counted right and %.1f %% within one, want 70 and 90 at least.", x.sections, 100*exact, 100*within)
	}
	for what, r := range map[string]*reliability{"count": &x.counts, "mark": &x.marks} {
		if off := r.miscalibration(); off > 0.06 {
			t.Errorf("The confidence of a %s is off by %.3f on average, want 0.06 at most.", what, off)
		}
		for k, b := range r {
			// Three standard errors, and a twentieth beside them.
			if p := b.said / max(b.n, 1); b.n >= 20 && math.Abs(b.came/b.n-p) > 0.05+3*math.Sqrt(p*(1-p)/b.n) {
				t.Errorf("Of %.0f times that a %s was said to be right with %d to %d %%, %.0f %% were right.", b.n, what, 10*k, 10*k+10, 100*b.came/b.n)
			}
		}
	}
	if *update && !testing.Short() {
		write(t, "../../docs/suggestions.md", x.page())
		write(t, "../../docs/suggestions.svg", x.picture())
	}
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// page is docs/suggestions.md.
func (x *trial) page() string {
	var p strings.Builder
	n := float64(x.sections)
	fmt.Fprintf(&p, `# Suggested annuli: how often they are right

What `+"`reading/annuli`"+` suggests for %d drawn sections of 1 to 22 annuli, each number as likely, at 5 µm a pixel. Nobody looked at them while the method was made: it was learnt on other sections, and choices were made on others again. The sections are invented (`+"`plan/section`"+`): uneven light, grain, dust and scratches, checks, double annuli, bent arms, bowed rings, a rim, annuli that merge at the edge, contrast from faint to strong, light through and light on. No real section is among them; a programme should try the suggestions on its own reference collection before it shows them to readers.

**The count is right in %.1f %% and within one in %.1f %%** (standard errors %.1f and %.1f).

| annuli | sections | right, %% | within one, %% | mean of suggested − true |
|---|---:|---:|---:|---:|
`, x.sections, 100*float64(x.exact)/n, 100*float64(x.within)/n, standardError(float64(x.exact), n), standardError(float64(x.within), n))
	for i, g := range x.groups {
		fmt.Fprintf(&p, "| %s | %.0f | %.0f | %.0f | %+.2f |\n", groupNames[i], g.n, 100*g.exact/g.n, 100*g.within/g.n, g.off/g.n)
	}
	fmt.Fprintf(&p, `
## Is it as sure as it should be?

![Of what was said to be right with a probability, the share that was](suggestions.svg)

Each suggestion says how sure it is of its count and of each mark. Of what it says with 80 %%, about 80 %% should be right. On average the two are apart by %.3f for counts and %.3f for marks. A mark is right when there is an annulus within 60 µm and nearer than half way to the next mark.

| said, %% | counts | right, %% | marks | right, %% |
|---|---:|---:|---:|---:|
`, x.counts.miscalibration(), x.marks.miscalibration())
	for k := range x.counts {
		c, m := x.counts[k], x.marks[k]
		if c.n+m.n > 0 {
			fmt.Fprintf(&p, "| %d to %d | %.0f | %s | %.0f | %s |\n", 10*k, 10*k+10, c.n, share(c.came, c.n), m.n, share(m.came, m.n))
		}
	}
	p.WriteString("\nThe test `TestSuggestionsOnUnseenSections` holds these figures to their bounds; `go test ./reading/annuli -run Unseen -update` writes this page.\n")
	return p.String()
}

func standardError(k, n float64) float64 { return 100 * math.Sqrt(k/n*(1-k/n)/n) }

func share(k, n float64) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f", 100*k/n)
}

// picture is docs/suggestions.svg: said across, came true upwards, with two standard errors.
func (x *trial) picture() string {
	var p strings.Builder
	p.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 330" font-family="system-ui, sans-serif" font-size="12" role="img" aria-label="Stated confidence against the share that was right, for counts and for marks">
<style>text{fill:#333}.axis{stroke:#888;fill:none}.even{stroke:#999;stroke-dasharray:4 4}.mark{fill:#1b6d85}.bar{stroke:#1b6d85;stroke-width:1.5}@media(prefers-color-scheme:dark){text{fill:#ddd}.mark{fill:#7cc5da}.bar{stroke:#7cc5da}}</style>
`)
	x.counts.panel(&p, 50, "Counts")
	x.marks.panel(&p, 370, "Marks")
	p.WriteString("</svg>\n")
	return p.String()
}

func (r *reliability) panel(p *strings.Builder, left float64, title string) {
	const side, top = 240.0, 40.0
	fmt.Fprintf(p, "<text x=\"%.0f\" y=\"26\" font-weight=\"600\">%s</text>\n", left, title)
	fmt.Fprintf(p, "<path class=\"axis\" d=\"M%.0f %.0fv%.0fh%.0f\"/><path class=\"even\" d=\"M%.0f %.0fl%.0f %.0f\"/>\n", left, top, side, side, left, top+side, side, -side)
	for k := 0; k <= 100; k += 25 {
		at := side * float64(k) / 100
		fmt.Fprintf(p, "<text x=\"%.0f\" y=\"%.0f\" text-anchor=\"middle\">%d</text><text x=\"%.0f\" y=\"%.0f\" text-anchor=\"end\">%d</text>\n", left+at, top+side+16, k, left-6, top+side-at+4, k)
	}
	fmt.Fprintf(p, "<text x=\"%.0f\" y=\"%.0f\" text-anchor=\"middle\">said, %%; upwards: right, %%</text>\n", left+side/2, top+side+36)
	for _, b := range r {
		if b.n == 0 {
			continue
		}
		said, came := b.said/b.n, b.came/b.n
		reach := 2 * math.Sqrt(max(came*(1-came), 0.25/b.n)/b.n)
		x, y := left+side*said, top+side*(1-came)
		fmt.Fprintf(p, "<path class=\"bar\" d=\"M%.1f %.1fV%.1f\"/><circle class=\"mark\" cx=\"%.1f\" cy=\"%.1f\" r=\"4\"><title>%.0f said with %.0f %%: %.0f %% right</title></circle>\n",
			x, top+side*(1-min(came+reach, 1)), top+side*(1-max(came-reach, 0)), x, y, b.n, 100*said, 100*came)
	}
}

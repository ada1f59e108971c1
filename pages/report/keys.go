package report

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"

	"earstone/estimate/key"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
)

const (
	mostPanels     = 12 // strata of the key that are drawn
	panelsAPicture = 4  // so that a picture stays on one sheet of paper
)

// formName is a form of the key in words.
func formName(form string) string {
	switch form {
	case run.AgreedDirect:
		return "agreed ages, direct"
	case run.AgreedSmoothed:
		return "agreed ages, smoothed"
	case run.TrueDirect:
		return "true ages, direct"
	case run.TrueSmoothed:
		return "true ages, smoothed"
	}
	return form
}

// asPercent turns a share into percent.
func asPercent(n record.Number) record.Number { return record.Number{X: 100 * n.X, Known: n.Known} }

// panels are the strata of the key that are drawn: all, or the last of them.
func (k *told) panels() (first, last int) {
	n := len(k.s.Counts.KeyCells)
	return max(0, n-mostPanels), n
}

// cell names a stratum of the key.
func (k *told) cell(at int) string {
	if name := k.s.Counts.KeyCells[at].String(); name != "all together" {
		return name
	}
	return "All fish together"
}

// cells names strata of the key that stand behind each other.
func (k *told) cells(first, last int) string {
	if last-first == 1 {
		return k.s.Counts.KeyCells[first].String()
	}
	return k.s.Counts.KeyCells[first].String() + " to " + k.s.Counts.KeyCells[last-1].String()
}

// drawnOnly says that not all strata are drawn.
func (k *told) drawnOnly() string {
	first, last := k.panels()
	if first == 0 {
		return ""
	}
	return fmt.Sprintf("The last %d of %d strata of the key are drawn; the result tables hold all.", last-first, last)
}

func (k *told) keySection() section {
	if k.s.Key == nil {
		return section{}
	}
	c := k.section("key", "The age–length key")
	c.Says = []string{fmt.Sprintf("The key says of each length how likely each age is. This one is of %s, by %s; it was made from %s.",
		formName(k.s.Key.Form), k.keyBy(), plural(int(k.s.Key.Told.Fish+0.5), "fish", "fish"))}
	if only := k.drawnOnly(); only != "" {
		c.Says = append(c.Says, only)
	}
	first, last := k.panels()
	for ; first < last; first += panelsAPicture {
		c.Sets = append(c.Sets, set{Figures: []figure{k.surface(first, min(first+panelsAPicture, last))}})
	}
	return c
}

// keyBy names what the strata of the key are cut by.
func (k *told) keyBy() string {
	if l := k.s.Counts.Ladder; len(l) > 0 && l[0] != 0 {
		return list(l[0].Names())
	}
	return "nothing: all fish together"
}

func (k *told) surface(first, last int) figure {
	ages := k.s.Counts.Design.Out()
	says := k.surfaceSays(first, last)
	pic := chart.KeySurface{Frame: chart.Frame{Title: fmt.Sprintf("Age–length key of %s", k.s.Species), Alt: says}, Unit: k.s.Counts.Bins.Unit,
		Plus: ages < k.s.Counts.Design.Ages}
	for a := range ages {
		pic.Ages = append(pic.Ages, a)
	}
	of := &table{Summary: "The key, bin by bin", File: "key.csv", Caption: "Share of each age in %, by stratum of the key and length bin in " + k.s.Counts.Bins.Unit + ". An empty cell is none; 0 is less than half of one percent.",
		Head: append(text("Stratum", "Length", "Rests on"), figures("Aged fish")...)}
	for a := range ages {
		of.Head = append(of.Head, column{Name: k.ageName(a)})
	}
	for at := first; at < last; at++ {
		panel := chart.KeyPanel{Name: k.cell(at)}
		for l, catch := range k.catchByLength(at) {
			if b, ok := k.keyBin(at, l, catch); ok {
				panel.Bins = append(panel.Bins, b)
				of.Rows = append(of.Rows, k.keyRow(at, l, b))
			}
		}
		pic.Panels = append(pic.Panels, panel)
	}
	return k.figure(figure{Title: "The key, " + k.cells(first, last) + ".", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// ageName is a kept age class, the plus group as 12+.
func (k *told) ageName(a int) string {
	d := &k.s.Counts.Design
	if d.Out() < d.Ages && a == d.Out()-1 {
		return strconv.Itoa(a) + "+"
	}
	return strconv.Itoa(a)
}

// catchByLength is the catch in fish of each bin of a stratum of the key.
func (k *told) catchByLength(at int) []float64 {
	d := &k.s.Counts.Design
	catch, p := make([]float64, d.Bins), make([]float64, d.Bins)
	for i := range d.Strata {
		if d.Strata[i].Key != at || !d.LengthShares(p, i, nil) {
			continue
		}
		number := d.Number(i, p)
		for l, share := range p {
			catch[l] += number * share
		}
	}
	return catch
}

// keyBin is a bin of the key; not ok where there is neither a catch nor a key.
func (k *told) keyBin(at, l int, catch float64) (chart.KeyBin, bool) {
	d, bins := &k.s.Counts.Design, k.s.Counts.Bins
	row := at*d.Bins + l
	b := chart.KeyBin{From: bins.Lower(l), To: bins.Lower(l + 1), Fish: int(k.s.Key.Used[row] + 0.5)}
	switch from := k.s.Key.From[row]; {
	case from.Rung() < 0:
		b.Basis = chart.Unaged
		return b, catch > 0
	case !from.Own():
		b.Basis = chart.Borrowed
	}
	b.Shares = make([]float64, d.Out())
	for a := range d.Ages {
		b.Shares[d.Fold(a)] += k.s.Key.Q[row*d.Ages+a]
	}
	return b, catch > 0 || b.Basis == chart.Own
}

func (k *told) keyRow(at, l int, b chart.KeyBin) []string {
	row := []string{k.cell(at), k.bin(l), k.restsOn(k.s.Key.From[at*k.s.Counts.Design.Bins+l]), words.Count(b.Fish)}
	for a := range k.s.Counts.Design.Out() {
		switch {
		case b.Shares == nil:
			row = append(row, none)
		case b.Shares[a] == 0:
			row = append(row, "")
		default:
			row = append(row, words.Figure(100*b.Shares[a], 0))
		}
	}
	return row
}

// restsOn says where a row of the key comes from.
func (k *told) restsOn(from key.Source) string {
	rests := "its own fish"
	switch {
	case from.Rung() < 0:
		return "no key"
	case from.Iterated():
		rests = "another year's lengths at age"
	case from.Combined():
		rests = "all years together"
	case !from.Own():
		rests = "borrowed: " + k.s.Counts.Ladder[from.Rung()].String()
	}
	if from.Edge() {
		rests += ", edge bin"
	}
	if from.Short() {
		rests += ", few fish"
	}
	return rests
}

// bin is a length bin as a person reads it.
func (k *told) bin(l int) string {
	b := k.s.Counts.Bins
	return edge(b.Lower(l)) + "–" + edge(b.Lower(l+1))
}

func edge(x float64) string {
	if x == float64(int(x)) {
		return words.Figure(x, 0)
	}
	return words.Figure(x, 1)
}

// surfaceSays names the length of most fish and how its ages divide.
func (k *told) surfaceSays(first, last int) string {
	d := &k.s.Counts.Design
	best, most := -1, 0.0
	var own, borrowed, none float64
	for at := first; at < last; at++ {
		for l, n := range k.catchByLength(at) {
			switch from := k.s.Key.From[at*d.Bins+l]; {
			case from.Rung() < 0:
				none += n
				continue
			case from.Own():
				own += n
			default:
				borrowed += n
			}
			if n > most {
				best, most = at*d.Bins+l, n
			}
		}
	}
	if best < 0 {
		return "No catch at a length with a key belongs to these strata."
	}
	total := own + borrowed + none
	rests := divided(total, []part{{own, "has a key of its own stratum"}, {borrowed, "borrows its key"}, {none, "has no key"}})
	b, _ := k.keyBin(best/d.Bins, best%d.Bins, most)
	return join(fmt.Sprintf("Most fish of one length were caught at %s %s in %s: %s.", k.bin(best%d.Bins), k.s.Counts.Bins.Unit, k.cell(best/d.Bins), k.ageShares(b.Shares)), rests)
}

// ageShares are the ages that make up nine tenths of a bin, the commonest first.
func (k *told) ageShares(shares []float64) string {
	left := slices.Clone(shares)
	var said []string
	for sum := 0.0; sum < 0.9 && len(said) < len(left); {
		best := 0
		for a, share := range left {
			if share > left[best] {
				best = a
			}
		}
		sum += left[best]
		said = append(said, percent(left[best])+" age "+k.ageName(best))
		left[best] = -1
	}
	return list(said)
}

package chart

import "slices"

// Posteriors is a strip with one column a fish: how likely each nursery is, one
// on top of the other, the fish sorted so that each call stands together. A call
// is named with its number beneath; fish unlike every nursery stand apart,
// hatched. Where fish are more than columns have room, neighbours in the order
// share one and it shows their mean.
type Posteriors struct {
	Frame
	Nurseries []string // from the bottom up
	Fish      []PosteriorFish
	Sure      float64 // share from which a fish is called; 0 draws no line
}

// PosteriorFish is one fish; Shares follows Nurseries, Call is an index of it,
// CalledUnclear or CalledOutside.
type PosteriorFish struct {
	Shares []float64
	Call   int
}

// mostColumns is how many columns the strip has at most.
const mostColumns = 800

// Draw answers the picture. Panics when a fish has not one share a nursery.
func (p Posteriors) Draw() SVG {
	w, h := p.size(300)
	c := &canvas{width: w, height: h}
	runs := p.runs()
	name := 0.0
	for _, n := range p.Nurseries {
		name = max(name, textWidth(n, smallSize)*1.1+24)
	}
	name = min(name, w/3)
	total := 0
	for _, r := range runs {
		total += len(r.fish)
	}
	area := box{52, 34, w - name - 16, h - 74}
	air := 5 * float64(max(len(runs)-1, 0))
	each := (area.x1 - area.x0 - air) / float64(max(total, 1))
	q := plot{c, area, scale{}, scale{0, 1, area.y1, area.y0}}
	q.yAxis([]float64{0, 0.5, 1}, []string{"0", "50" + thin + "%", "100" + thin + "%"}, "how likely, a column a fish ("+count(total, "fish")+")")
	x := area.x0
	places := make([]box, len(runs))
	c.inside(area, func() {
		for i, r := range runs {
			places[i] = box{x, area.y0, x + each*float64(len(r.fish)), area.y1}
			x = places[i].x1 + 5
			q.mark(r.words, func() { p.run(q, r, places[i], max(1, float64(total)/mostColumns)) })
		}
		if p.Sure > 0 && p.Sure < 1 {
			q.line("rule", area.x0, q.y.at(p.Sure), area.x1, q.y.at(p.Sure))
			q.line("rule", area.x0, q.y.at(1-p.Sure), area.x1, q.y.at(1-p.Sure))
		}
	})
	p.names(q, runs)
	tagRuns(c, runs, places, area.y1)
	return c.finish(p.Frame)
}

// posteriorRun is the fish of one call.
type posteriorRun struct {
	call  int
	words string
	fish  []PosteriorFish
}

// runs sorts the fish: with two nurseries from one to the other with the unclear
// ones between, with more the unclear ones last; those outside apart.
func (p Posteriors) runs() []posteriorRun {
	order := make([]int, 0, len(p.Nurseries)+2)
	for k := range p.Nurseries {
		order = append(order, k)
	}
	if len(order) == 2 {
		order = []int{0, CalledUnclear, 1}
	} else {
		order = append(order, CalledUnclear)
	}
	var runs []posteriorRun
	for _, call := range append(order, CalledOutside) {
		r := posteriorRun{call: call}
		for _, f := range p.Fish {
			if len(f.Shares) != len(p.Nurseries) {
				panic("chart: a fish needs one share a nursery")
			}
			if f.Call == call {
				r.fish = append(r.fish, f)
			}
		}
		if len(r.fish) == 0 {
			continue
		}
		p.sort(&r)
		r.words = p.called(call) + ": " + count(len(r.fish), "fish")
		runs = append(runs, r)
	}
	return runs
}

// sort orders the fish of a call by the nursery of the call; with two nurseries
// all by the first, so that the strip falls from left to right. Unclear ones of
// more nurseries go by the likeliest.
func (p Posteriors) sort(r *posteriorRun) {
	by := 0
	if len(p.Nurseries) != 2 && r.call > 0 {
		by = r.call
	}
	if len(p.Nurseries) == 0 {
		return
	}
	slices.SortStableFunc(r.fish, func(a, b PosteriorFish) int {
		of := by
		if r.call == CalledUnclear && len(p.Nurseries) > 2 {
			if of = likeliest(a); of != likeliest(b) {
				return of - likeliest(b)
			}
		}
		switch x, y := atLeast(a.Shares[of], 0), atLeast(b.Shares[of], 0); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
}

// likeliest is the nursery with the largest share.
func likeliest(f PosteriorFish) int {
	best := 0
	for k, s := range f.Shares {
		if atLeast(s, 0) > atLeast(f.Shares[best], 0) {
			best = k
		}
	}
	return best
}

func (p Posteriors) called(call int) string {
	switch call {
	case CalledUnclear:
		return "unclear"
	case CalledOutside:
		return "unlike all"
	}
	return p.Nurseries[call]
}

// run draws the fish of a call: each nursery fills from its share upwards, so
// that the one above covers the rest.
func (p Posteriors) run(q plot, r posteriorRun, place box, together float64) {
	if r.call == CalledOutside {
		q.hatch("hatch hatch-0", place)
		q.rect("line-0 fine", place)
		return
	}
	columns := max(1, int(float64(len(r.fish))/together))
	wide := (place.x1 - place.x0) / float64(columns)
	below := make([]float64, columns)
	for k := range p.Nurseries {
		points := []float64{place.x0, q.y.at(1)}
		edge := []float64{}
		for i := range columns {
			x0, x1 := place.x0+float64(i)*wide, place.x0+float64(i+1)*wide
			y := q.y.at(below[i])
			points = append(points, x0, y, x1, y)
			edge = append(edge, x0, y, x1, y)
		}
		points = append(points, place.x1, q.y.at(1))
		q.path(layer(k), true, points...)
		if k > 0 {
			q.path("line-0 hair", false, edge...)
		}
		for i := range columns {
			below[i] = min(1, below[i]+p.mean(r.fish, k, i, columns))
		}
	}
	q.rect("line-0 fine", place)
}

// mean is the share of a nursery among the fish of a column.
func (p Posteriors) mean(fish []PosteriorFish, k, column, columns int) float64 {
	from, to := column*len(fish)/columns, (column+1)*len(fish)/columns
	sum := 0.0
	for _, f := range fish[from:to] {
		total := 0.0
		for _, s := range f.Shares {
			total += min(atLeast(s, 0), 1)
		}
		if total > 0 {
			sum += min(atLeast(f.Shares[k], 0), 1) / total
		}
	}
	return sum / float64(max(to-from, 1))
}

// layer is the look of nursery k in the strip: fills that differ in lightness.
func layer(k int) string {
	return []string{"layer-1 fill-1", "soft-2", "layer-3 fill-3", "fill-paper"}[k%4]
}

// names writes each nursery at the right, where its own fish have most.
func (p Posteriors) names(q plot, runs []posteriorRun) {
	if len(runs) == 0 {
		return
	}
	at := make([]float64, len(p.Nurseries))
	for k := range p.Nurseries {
		at[k] = q.y.at((float64(k) + 0.5) / float64(len(p.Nurseries)))
	}
	for k, y := range spread(at, 24, q.area.y0+8, q.area.y1-8) {
		q.rect(layer(k), box{q.area.x1 + 8, y - 7, q.area.x1 + 22, y + 7})
		q.rect("line-0 fine", box{q.area.x1 + 8, y - 7, q.area.x1 + 22, y + 7})
		q.text("small strong", q.area.x1+27, y+4.5, shorten(p.Nurseries[k], smallSize, q.width-q.area.x1-29))
	}
}

// tagRuns writes each call with its number beneath its columns, on rows where
// no label touches another.
func tagRuns(c *canvas, runs []posteriorRun, places []box, y float64) {
	var tags []tag
	for i, r := range runs {
		t := tag{x: (places[i].x0 + places[i].x1) / 2, words: r.words}
		half := textWidth(t.words, smallSize) / 2
		t.left, t.right = t.x-half, t.x+half
		if t.left < 4 {
			t.left, t.right = 4, 4+2*half
		}
		if t.right > c.width-4 {
			t.left, t.right = c.width-4-2*half, c.width-4
		}
		for t.row = 0; t.row < 2; t.row++ {
			free := true
			for _, other := range tags {
				free = free && (other.row != t.row || t.left > other.right+8 || t.right < other.left-8)
			}
			if free {
				break
			}
		}
		tags = append(tags, t)
	}
	for _, t := range tags {
		words := shorten(t.words, smallSize, c.width-8)
		base := y + 20 + float64(t.row)*20
		c.line("leader", t.x, y+2, t.x, base-12)
		c.text("small middle halo", (t.left+t.right)/2, base, words)
	}
}

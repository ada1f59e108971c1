package section

import (
	"math"
	"slices"
)

// grow lays the annuli down. The first year is by far the widest; each later one adds
// less, down to a floor that an old fish keeps; and no two years are alike.
func (p *pencil) grow() {
	s := p.settings
	count := s.Least + p.draw.IntN(s.Most-s.Least+1)
	first := p.about(900, 0.13)
	second := p.about(330, 0.18)
	fall := p.about(0.22, 0.25)
	floor := p.about(48, 0.2)
	at := 0.0
	for k := 0; ; k++ {
		width := first
		if k > 0 {
			width = (floor + second*math.Exp(-fall*float64(k-1))) * p.about(1, 0.12)
		}
		if k == count {
			early := 0.15 // an annulus is complete when there is growth to be seen outside it
			if count == 0 {
				early = 0.35 // before that nobody catches it
			}
			p.edge = at + width*p.between(early, 0.97) // caught on any later day of the year
			return
		}
		at += width
		p.annuli = append(p.annuli, at)
		p.widths = append(p.widths, width)
	}
}

// check is a mark that is no annulus.
type check struct {
	at, width, depth float64
	middle, reach    float64 // aside: where it crosses the arm, and how far it goes from there
}

// checksOf draws the false annuli: most in the first year and the two after it.
func (p *pencil) checksOf(contrast float64) {
	from := 0.0
	for k := 0; k <= len(p.annuli); k++ {
		to, mean := p.edge, 0.04
		if k < len(p.annuli) {
			to = p.annuli[k]
		}
		switch {
		case k == 0:
			mean, from = 0.4, 0.35*to
		case k < 4:
			mean = 0.15
		}
		for u := p.draw.Exponential(); u < mean; u += p.draw.Exponential() {
			c := check{
				at: p.between(from+0.15*(to-from), to-0.15*(to-from)), width: p.between(0.04, 0.12) * (to - from),
				depth: contrast * p.between(0.2, 0.85), reach: math.Inf(1),
			}
			c.width = min(max(c.width, 6), 22)
			if p.draw.Float64() < 0.6 {
				c.middle, c.reach = p.between(-1, 1)*p.half, p.between(0.3, 0.9)*p.half
			}
			p.checks = append(p.checks, c)
		}
		from = to
	}
	slices.SortFunc(p.checks, func(a, b check) int {
		if a.at < b.at {
			return -1
		}
		return 1
	})
}

package section

import (
	"math"

	"earstone/statistics/stream"
)

// shape draws how the arm lies in the picture and how its rings cross it.
func (p *pencil) shape() {
	p.half = p.between(130, 190)
	p.tilt = 0.05 * p.draw.Normal()
	p.bow = 1 / (2 * p.about(600, 0.35))
	p.bend = newBend(&p.draw, p.edge, p.half)
}

// rings draws what the arm looks like: how dark each µm is.
func (p *pencil) rings() {
	quiet := p.settings.Quiet
	p.light = Light(p.draw.IntN(2))
	p.base = p.between(0.35, 0.6)
	p.contrast = p.about(0.1, 0.45)
	p.wave = p.between(150, 500)
	n := int(p.edge) + 400
	p.even, p.cos, p.sin = make([]float64, n), make([]float64, n), make([]float64, n)
	for k, at := range p.annuli {
		depth := p.contrast * p.about(1, 0.2)
		if k < 4 {
			depth *= 0.7 + 0.075*float64(k) // the first are the hardest
		}
		width := min(p.between(0.13, 0.24)*p.widths[k], 60)
		turn, wax := p.between(0, 2*math.Pi), p.between(0, 0.5)
		if !quiet && k < 8 && p.draw.Float64() < 0.08 { // a double annulus
			apart := p.between(0.2, 0.32) * p.widths[k]
			p.ring(at-apart, width*0.5, depth*p.between(0.4, 0.8), turn, wax)
			p.ring(at, width*0.5, depth, turn, wax)
			continue
		}
		p.ring(at, width, depth, turn, wax)
	}
	if quiet {
		return
	}
	p.checksOf(p.contrast)
	p.texture(p.contrast * p.between(0.05, 0.18))
	p.core()
	p.ring(p.edge, p.between(5, 11), p.contrast*p.between(0, 1.2), 0, 0) // the rim
	p.grain, p.noise = p.contrast*p.between(0.2, 0.5), p.contrast*p.between(0.1, 0.4)
	p.slope = [3]float64{0.2 * p.draw.Normal(), 0.1 * p.draw.Normal(), 0.15 * p.draw.Normal()}
}

// ring adds a ring: it darkens slowly from within and ends sharply. wax is how much
// stronger and fainter it is aside, turn where.
func (p *pencil) ring(at, width, depth, turn, wax float64) {
	inner, outer := math.Hypot(width, 6), math.Hypot(0.5*width, 6) // the section is thick: nothing is sharper
	for i := max(int(at-4*inner), 0); i < min(int(at+4*outer)+1, len(p.even)); i++ {
		z := (float64(i) - at) / inner
		if z > 0 {
			z = (float64(i) - at) / outer
		}
		d := depth * math.Exp(-0.5*z*z)
		p.even[i] += d
		p.cos[i] += d * wax * math.Cos(turn)
		p.sin[i] += d * wax * math.Sin(turn)
	}
}

// texture adds growth within the year: a walk that comes back, smooth over some 20 µm.
func (p *pencil) texture(size float64) {
	keep := math.Exp(-1 / p.between(10, 22))
	fast, slow := 0.0, 0.0
	scale := size * math.Pow(1-keep*keep, 1.5) / ((1 - keep) * math.Sqrt(1+keep*keep)) // one over the SD of slow
	for i := range p.even {
		fast = keep*fast + p.draw.Normal()
		slow = keep*slow + (1-keep)*fast
		p.even[i] += scale * slow
	}
}

// core darkens the first part of the first year, and the thick middle of the stone.
func (p *pencil) core() {
	dark, reach, thick := p.contrast*p.between(0.5, 2), p.between(120, 260), 0.1*p.draw.Normal()
	for i := range p.even {
		z := float64(i) / reach
		p.even[i] += dark*math.Exp(-0.5*z*z) + thick*(1-float64(i)/p.edge)
	}
}

// flaw is a scratch through a place, or a grain of dust at it, in µm of the picture.
type flaw struct {
	x, y, size, depth, cos, sin float64
}

// flaws draws up to three scratches and five grains of dust.
func (p *pencil) flaws() {
	if p.settings.Quiet {
		return
	}
	for range p.draw.IntN(4) {
		p.scratches = append(p.scratches, p.flaw(p.between(4, 8), 1.2))
	}
	for range p.draw.IntN(6) {
		p.dusts = append(p.dusts, p.flaw(p.between(10, 28), 2.5))
	}
}

func (p *pencil) flaw(size, depth float64) flaw {
	x, y := p.bend.place(p.edge * p.draw.Float64())
	angle := p.between(0, math.Pi)
	return flaw{
		x: x + p.half*p.draw.Normal()/2, y: y + p.half*p.draw.Normal()/2, size: size,
		depth: p.contrast * depth * p.between(-0.5, 1), cos: math.Cos(angle), sin: math.Sin(angle),
	}
}

// bend is the middle line of the arm: x along a straight chord, aside by a cubic, the
// whole turned in the picture. along and chord are a table of arc lengths.
type bend struct {
	a, b, chord    float64 // aside = chord · (a t(1−t) + b t(1−t)(1−2t)), t = x/chord
	turn, cos, sin float64
	left, top      float64
	along          []float64 // arc length at each of equal steps of the chord
}

const bendSteps = 400

func newBend(draw *stream.Stream, length, half float64) bend {
	b := bend{a: 0.5 * draw.Normal(), b: 0.35 * draw.Normal(), chord: 1, along: make([]float64, bendSteps+1)}
	b.a, b.b = min(max(b.a, -0.9), 0.9), min(max(b.b, -0.6), 0.6)
	for i := 1; i <= bendSteps; i++ {
		y0, _ := b.aside(float64(i-1) / bendSteps)
		y1, _ := b.aside(float64(i) / bendSteps)
		b.along[i] = b.along[i-1] + math.Hypot(1.0/bendSteps, y1-y0)
	}
	b.chord = length / b.along[bendSteps]
	for i := range b.along {
		b.along[i] *= b.chord
	}
	b.turn = 0.25 * draw.Normal()
	b.cos, b.sin = math.Cos(b.turn), math.Sin(b.turn)
	return b
}

// aside is how far the middle lies off the chord at x, and its slope there.
func (b *bend) aside(x float64) (y, slope float64) {
	t := x / b.chord
	if t < 0 || t > 1 { // straight on
		end := min(max(t, 0), 1)
		slope = b.a*(1-2*end) + b.b*(1-6*end+6*end*end)
		return slope * (t - end) * b.chord, slope
	}
	return b.chord * (b.a*t*(1-t) + b.b*t*(1-t)*(1-2*t)), b.a*(1-2*t) + b.b*(1-6*t+6*t*t)
}

// place is where in the picture the middle line is, so many µm from the core.
func (b *bend) place(u float64) (x, y float64) {
	low, high := 0, bendSteps
	for high-low > 1 {
		if mid := (low + high) / 2; b.along[mid] <= u {
			low = mid
		} else {
			high = mid
		}
	}
	span := b.along[high] - b.along[low]
	x = b.chord * (float64(low) + (u-b.along[low])/span) / bendSteps
	y, _ = b.aside(x)
	return b.cos*x - b.sin*y - b.left, b.sin*x + b.cos*y - b.top
}

// arm turns a place of the picture into distance along the middle line and aside.
func (b *bend) arm(x, y float64) (u, v float64) {
	x, y = x+b.left, y+b.top
	x, y = b.cos*x+b.sin*y, b.cos*y-b.sin*x
	foot := x
	for range 4 { // towards the foot of the perpendicular
		at, slope := b.aside(foot)
		foot += ((x - foot) + (y-at)*slope) / (1 + slope*slope)
	}
	at, slope := b.aside(foot)
	v = ((y - at) - slope*(x-foot)) / math.Sqrt(1+slope*slope)
	step := foot / b.chord * bendSteps
	i := min(max(int(step), 0), bendSteps-1)
	return b.along[i] + (step-float64(i))*(b.along[i+1]-b.along[i]), v
}

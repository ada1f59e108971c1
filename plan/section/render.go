package section

import (
	"image"
	"math"
)

// render paints the picture: what surrounds the stone, the arm, the flaws, the grain.
func (p *pencil) render() {
	um := p.settings.UmPerPixel
	p.frame()
	width, height := p.picture.Rect.Dx(), p.picture.Rect.Dy()
	sheet := p.sheet(width, height)
	for row := range height {
		for col := range width {
			x, y := float64(col)*um, float64(row)*um
			light := p.at(x, y, p.grain*sheet.at(col, row)) + p.noise*p.draw.Normal()
			light *= p.lamp(float64(col)/float64(width), float64(row)/float64(height))
			// A camera of 12 bits in a file of 16.
			level := uint16(min(max(light, 0), 1)*4095) << 4
			o := p.picture.PixOffset(col, row)
			p.picture.Pix[o], p.picture.Pix[o+1] = byte(level>>8), byte(level)
		}
	}
}

// frame makes the picture as large as the arm, with a margin, and puts the arm into it.
func (p *pencil) frame() {
	left, top, right, bottom := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range 41 {
		x, y := p.bend.place(p.edge * float64(i) / 40)
		left, right = min(left, x), max(right, x)
		top, bottom = min(top, y), max(bottom, y)
	}
	margin := p.half + 40
	p.bend.left, p.bend.top = left-margin, top-margin
	um := p.settings.UmPerPixel
	p.picture = image.NewGray16(image.Rect(0, 0, int((right-left+2*margin)/um), int((bottom-top+2*margin)/um)))
}

// at is the light at a place of the picture, before the lamp; grain is of the stone.
func (p *pencil) at(x, y, grain float64) float64 {
	u, v := p.bend.arm(x, y)
	r := u - p.tilt*v + p.bow*v*v
	beyond := max(math.Abs(v)-p.half, r-p.edge, -r-p.half)
	if beyond > 12 {
		return p.around()
	}
	dark := p.darkness(min(max(r, 0), float64(len(p.even)-2)), v) + p.flawed(x, y)
	if p.light == Reflected {
		dark = -dark
	}
	stone := p.base - dark + grain
	out := 1 / (1 + math.Exp(-beyond/3))
	return stone + out*(p.around()-stone)
}

// around is the light beside the stone: bright where it shines through, dark where
// it falls on.
func (p *pencil) around() float64 {
	if p.light == Reflected {
		return 0.06
	}
	return 0.9
}

func (p *pencil) darkness(r, v float64) float64 {
	i := int(r)
	share := r - float64(i)
	c, s := math.Cos(v/p.wave*2*math.Pi), math.Sin(v/p.wave*2*math.Pi)
	here := p.even[i] + c*p.cos[i] + s*p.sin[i]
	next := p.even[i+1] + c*p.cos[i+1] + s*p.sin[i+1]
	dark := here + share*(next-here)
	for _, k := range p.checks {
		z := (r - k.at) / k.width
		if math.Abs(z) < 4 {
			aside := max(math.Abs(v-k.middle)-k.reach, 0) / 20
			dark += k.depth * math.Exp(-0.5*(z*z+aside*aside))
		}
	}
	return dark
}

func (p *pencil) flawed(x, y float64) float64 {
	dark := 0.0
	for _, f := range p.scratches {
		if off := ((y-f.y)*f.cos - (x-f.x)*f.sin) / f.size; math.Abs(off) < 4 {
			dark += f.depth * math.Exp(-0.5*off*off)
		}
	}
	for _, f := range p.dusts {
		if off := math.Hypot(x-f.x, y-f.y) / f.size; off < 2 {
			dark += f.depth / (1 + math.Exp(8*(off-1)))
		}
	}
	return dark
}

// lamp is how bright the lamp is at a place, shares of width and height.
func (p *pencil) lamp(x, y float64) float64 {
	x, y = 2*x-1, 2*y-1
	return 1 + p.slope[0]*x + p.slope[1]*y + p.slope[2]*(x*x-0.5)
}

// sheet is grain of some pixels' size, SD about 1.
type sheet struct {
	across int
	z      []float64
}

const grainPixels = 4

func (p *pencil) sheet(width, height int) sheet {
	s := sheet{across: width/grainPixels + 2}
	s.z = make([]float64, s.across*(height/grainPixels+2))
	for i := range s.z {
		s.z[i] = 1.4 * p.draw.Normal() // what lies between is a mean of four
	}
	return s
}

func (s sheet) at(col, row int) float64 {
	i, j := col/grainPixels, row/grainPixels
	x, y := float64(col%grainPixels)/grainPixels, float64(row%grainPixels)/grainPixels
	o := j*s.across + i
	upper := s.z[o] + x*(s.z[o+1]-s.z[o])
	lower := s.z[o+s.across] + x*(s.z[o+s.across+1]-s.z[o+s.across])
	return upper + y*(lower-upper)
}

package transect

import (
	"fmt"
	"image"
	"math"
	"slices"
)

// Band is the picture straightened along an axis: rows run with the axis, core to
// edge, one row for each distance aside.
type Band struct {
	Along, Across int       // values in a row; rows, an odd number, the axis in the middle
	Step, Apart   float64   // pixels between values of a row, and between rows
	Light         []float64 // Light[j*Along+i], 0 black to 1 white: row j, value i
	Outside       float64   // share of values that lay beyond the picture and were taken from its border
}

// Swath says how a picture is read into a Band. The zero value of a field is its default.
type Swath struct {
	Half   float64 // pixels to each side of the axis; 24
	Apart  float64 // pixels between rows; 2
	Step   float64 // pixels between values of a row; 1
	Beyond float64 // pixels to read on past the edge; none
}

// Read fills the band from a picture of full depth, by bilinear interpolation, and
// grows its room when it must. A Step above 1 averages over the pixels between, so
// that nothing finer is folded into what is seen.
//
// Values beyond the picture are those of its border, and Outside tells how many.
// Panics on an empty picture, an axis of no length, or settings below 0.
func (b *Band) Read(picture *image.Gray16, axis Axis, s Swath) {
	s = s.filled()
	if picture.Rect.Empty() || axis.Length() == 0 || s.Half < 0 || s.Apart <= 0 || s.Step <= 0 || s.Beyond < 0 {
		panic(fmt.Sprintf("transect: reading %v along %v pixels by %+v", picture.Rect, axis.Length(), s))
	}
	side := int(s.Half / s.Apart)
	b.Across, b.Apart, b.Step = 2*side+1, s.Apart, s.Step
	b.Along = int((axis.Length()+s.Beyond)/s.Step) + 1
	b.Light = slices.Grow(b.Light[:0], b.Along*b.Across)[:b.Along*b.Across]
	parts := max(int(math.Ceil(s.Step)), 1)
	outside := 0
	for i := range b.Along {
		for j := range b.Across {
			b.Light[j*b.Along+i] = 0
		}
		for k := range parts {
			shift := s.Step * (float64(2*k+1)/float64(2*parts) - 0.5)
			place, ahead := axis.At(float64(i)*s.Step + shift)
			for j := range b.Across {
				aside := float64(j-side) * s.Apart
				light, in := lightAt(picture, place.X-float64(aside*ahead.Y), place.Y+float64(aside*ahead.X))
				b.Light[j*b.Along+i] += light / float64(parts)
				if !in {
					outside++
				}
			}
		}
	}
	b.Outside = float64(outside) / float64(parts*b.Along*b.Across)
}

func (s Swath) filled() Swath {
	if s.Half == 0 {
		s.Half = 24
	}
	if s.Apart == 0 {
		s.Apart = 2
	}
	if s.Step == 0 {
		s.Step = 1
	}
	return s
}

// lightAt is the brightness at a place between pixels, and whether the place lies in
// the picture.
func lightAt(p *image.Gray16, x, y float64) (light float64, in bool) {
	x, y = x+float64(p.Rect.Min.X), y+float64(p.Rect.Min.Y)
	left, top := float64(p.Rect.Min.X), float64(p.Rect.Min.Y)
	right, bottom := float64(p.Rect.Max.X-1), float64(p.Rect.Max.Y-1)
	in = x >= left && x <= right && y >= top && y <= bottom
	x, y = min(max(x, left), right), min(max(y, top), bottom)
	col, row := min(int(x-left), max(p.Rect.Dx()-2, 0)), min(int(y-top), max(p.Rect.Dy()-2, 0))
	fx, fy := x-left-float64(col), y-top-float64(row)
	o := row*p.Stride + 2*col
	dx, dy := 2, p.Stride
	if p.Rect.Dx() == 1 {
		dx = 0
	}
	if p.Rect.Dy() == 1 {
		dy = 0
	}
	upper := float64(grey(p.Pix, o)*(1-fx)) + float64(grey(p.Pix, o+dx)*fx)
	lower := float64(grey(p.Pix, o+dy)*(1-fx)) + float64(grey(p.Pix, o+dx+dy)*fx)
	return (float64(upper*(1-fy)) + float64(lower*fy)) / 65535, in
}

func grey(pix []byte, o int) float64 { return float64(uint16(pix[o])<<8 | uint16(pix[o+1])) }

package pictures

import (
	"image"
	"image/color"
	"image/draw"
)

// eightBits is a picture as it is shown: grey or RGBA of 8 bits, its corner at 0, 0.
// Brightnesses from low to high of a picture of 16 bits are spread over all 256.
func eightBits(src image.Image, low, high float64) image.Image {
	b := src.Bounds()
	switch src := src.(type) {
	case *image.Gray:
		if b.Min == (image.Point{}) {
			return src
		}
	case *image.RGBA:
		if b.Min == (image.Point{}) {
			return src
		}
	case *image.Gray16:
		return spreadGrey(src, low, high)
	case *image.RGBA64:
		return spreadColour(src, low, high)
	}
	if depthOf(src) == 16 { // NRGBA64
		deep := image.NewRGBA64(image.Rect(0, 0, b.Dx(), b.Dy()))
		draw.Draw(deep, deep.Rect, src, b.Min, draw.Src)
		return spreadColour(deep, low, high)
	}
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Rect, src, b.Min, draw.Src)
	return out
}

func depthOf(src image.Image) int {
	h := facts{model: src.ColorModel()}
	return h.depth()
}

// spread is the table from the upper 12 bits of a brightness to 8.
func spread(low, high float64) *[4096]byte {
	var table [4096]byte
	for i := range table {
		v := (float64(i)+0.5)/4096 - low
		table[i] = byte(min(max(v/max(high-low, 1.0/4096), 0), 1)*255 + 0.5)
	}
	return &table
}

func spreadGrey(src *image.Gray16, low, high float64) *image.Gray {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	out, table := image.NewGray(image.Rect(0, 0, w, h)), spread(low, high)
	for y := range h {
		row := src.Pix[y*src.Stride : y*src.Stride+2*w]
		for x := range w {
			out.Pix[y*out.Stride+x] = table[int(row[2*x])<<4|int(row[2*x+1])>>4]
		}
	}
	return out
}

func spreadColour(src *image.RGBA64, low, high float64) *image.RGBA {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	out, table := image.NewRGBA(image.Rect(0, 0, w, h)), spread(low, high)
	for y := range h {
		row := src.Pix[y*src.Stride : y*src.Stride+8*w]
		to := out.Pix[y*out.Stride : y*out.Stride+4*w]
		for x := range w {
			for c := range 3 {
				to[4*x+c] = table[int(row[8*x+2*c])<<4|int(row[8*x+2*c+1])>>4]
			}
			to[4*x+3] = row[8*x+6]
		}
	}
	return out
}

// window is the brightnesses between which all but two in a thousand pixels of a picture
// of 16 bits lie: a camera of 12 bits leaves fifteen sixteenths of the range empty.
// Pictures of 8 bits are shown as they are.
func window(src image.Image) (low, high float64) {
	var counts [4096]int
	total := 0
	switch src := src.(type) {
	case *image.Gray16:
		for y := range src.Rect.Dy() {
			row := src.Pix[y*src.Stride : y*src.Stride+2*src.Rect.Dx()]
			for i := 0; i < len(row); i += 2 {
				counts[int(row[i])<<4|int(row[i+1])>>4]++
			}
			total += src.Rect.Dx()
		}
	case *image.RGBA64, *image.NRGBA64:
		b := src.Bounds()
		for y := b.Min.Y; y < b.Max.Y; y += 4 {
			for x := b.Min.X; x < b.Max.X; x += 4 {
				counts[color.Gray16Model.Convert(src.At(x, y)).(color.Gray16).Y>>4]++
				total++
			}
		}
	default:
		return 0, 1
	}
	first, last := 0, len(counts)-1
	for below := counts[first]; below*1000 <= total && first < last; below += counts[first] {
		first++
	}
	for above := counts[last]; above*1000 <= total && last > first; above += counts[last] {
		last--
	}
	return float64(first) / 4096, float64(last+1) / 4096
}

// halved is a picture of half the size, each pixel the mean of four; at an odd border
// of two, or of one.
func halved(src image.Image) image.Image {
	switch src := src.(type) {
	case *image.Gray:
		out := image.NewGray(half(src.Rect))
		halve(out.Pix, out.Stride, src.Pix, src.Stride, src.Rect, 1)
		return out
	case *image.RGBA:
		out := image.NewRGBA(half(src.Rect))
		halve(out.Pix, out.Stride, src.Pix, src.Stride, src.Rect, 4)
		return out
	}
	panic("pictures: only what eightBits made is halved")
}

func half(r image.Rectangle) image.Rectangle {
	return image.Rect(0, 0, (r.Dx()+1)/2, (r.Dy()+1)/2)
}

// halve fills dst with the means; channels bytes make a pixel.
func halve(dst []byte, dstStride int, src []byte, stride int, r image.Rectangle, channels int) {
	w, h := r.Dx(), r.Dy()
	for y := 0; 2*y < h; y++ {
		upper := src[2*y*stride : 2*y*stride+w*channels]
		lower := upper
		if 2*y+1 < h {
			lower = src[(2*y+1)*stride : (2*y+1)*stride+w*channels]
		}
		to := dst[y*dstStride : y*dstStride+(w+1)/2*channels]
		for x := range w / 2 {
			for c := range channels {
				i := 2*x*channels + c
				sum := int(upper[i]) + int(upper[i+channels]) + int(lower[i]) + int(lower[i+channels])
				to[x*channels+c] = byte((sum + 2) / 4)
			}
		}
		if w%2 == 1 {
			for c := range channels {
				i := (w-1)*channels + c
				to[w/2*channels+c] = byte((int(upper[i]) + int(lower[i]) + 1) / 2)
			}
		}
	}
}

// greyOf is a picture as brightness of 16 bits: of grey its own value, of colours the
// luma of Rec. 601, as package color has it.
func greyOf(src image.Image) *image.Gray16 {
	b := src.Bounds()
	if same, ok := src.(*image.Gray16); ok && b.Min == (image.Point{}) {
		return same
	}
	out := image.NewGray16(image.Rect(0, 0, b.Dx(), b.Dy()))
	set := func(x, y int, v uint32) {
		o := y*out.Stride + 2*x
		out.Pix[o], out.Pix[o+1] = byte(v>>8), byte(v)
	}
	for y := range b.Dy() {
		switch src := src.(type) {
		case *image.Gray:
			for x, v := range src.Pix[y*src.Stride : y*src.Stride+b.Dx()] {
				set(x, y, uint32(v)*257)
			}
		case *image.RGBA:
			row := src.Pix[y*src.Stride : y*src.Stride+4*b.Dx()]
			for x := range b.Dx() {
				set(x, y, luma(uint32(row[4*x])*257, uint32(row[4*x+1])*257, uint32(row[4*x+2])*257))
			}
		case *image.RGBA64:
			row := src.Pix[y*src.Stride : y*src.Stride+8*b.Dx()]
			for x := range b.Dx() {
				p := row[8*x : 8*x+6]
				set(x, y, luma(uint32(p[0])<<8|uint32(p[1]), uint32(p[2])<<8|uint32(p[3]), uint32(p[4])<<8|uint32(p[5])))
			}
		case *image.YCbCr:
			for x := range b.Dx() {
				set(x, y, uint32(src.Y[src.YOffset(b.Min.X+x, b.Min.Y+y)])*257)
			}
		default:
			for x := range b.Dx() {
				r, g, bl, _ := src.At(b.Min.X+x, b.Min.Y+y).RGBA()
				set(x, y, luma(r, g, bl))
			}
		}
	}
	return out
}

func luma(r, g, b uint32) uint32 { return (19595*r + 38470*g + 7471*b + 1<<15) >> 16 }

package pictures

import (
	"encoding/binary"
	"io"
	"math"
)

// The scales that a microscope may have. A resolution of 72 or 300 dots an inch is what
// programs write when they know none, and lies far outside.
const (
	finest, coarsest = 0.02, 40 // µm per pixel
)

// resolution sets the scale by what the file says, where pixels are square and the scale
// fits a microscope, and whether a JPEG is progressive.
func (h *facts) resolution(f io.ReaderAt, size int64) {
	var x, y float64 // µm per pixel
	switch h.format {
	case "tiff":
		x, y = tiffScale(f)
	case "png":
		x, y = pngScale(f, size)
	case "jpeg":
		x, y, h.progressive = jpegHead(f, size)
	}
	if x >= finest && x <= coarsest && math.Abs(x-y) <= 0.01*x {
		h.umPerPixel = x
	}
}

// umPerInch and umPerCm turn dots an inch, or a centimetre, into µm per pixel.
const (
	umPerInch = 25_400
	umPerCm   = 10_000
)

// tiffScale reads XResolution, YResolution (282, 283) and ResolutionUnit (296) of the
// first page.
func tiffScale(f io.ReaderAt) (x, y float64) {
	head := make([]byte, 8)
	if _, err := f.ReadAt(head, 0); err != nil {
		return 0, 0
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(head[4:]))
	if _, err := f.ReadAt(head[:2], at); err != nil {
		return 0, 0
	}
	unit := float64(umPerInch)
	entry := make([]byte, 12)
	for i := range int64(order.Uint16(head)) {
		if _, err := f.ReadAt(entry, at+2+12*i); err != nil {
			return 0, 0
		}
		switch order.Uint16(entry) {
		case 282:
			x = rational(f, order, entry)
		case 283:
			y = rational(f, order, entry)
		case 296:
			switch order.Uint16(entry[8:]) {
			case 2:
				unit = umPerInch
			case 3:
				unit = umPerCm
			default:
				return 0, 0
			}
		}
	}
	if x <= 0 || y <= 0 {
		return 0, 0
	}
	return unit / x, unit / y
}

// rational is a value of two 32-bit numbers, 0 when it is none.
func rational(f io.ReaderAt, order binary.ByteOrder, entry []byte) float64 {
	value := make([]byte, 8)
	if order.Uint16(entry[2:]) != 5 || order.Uint32(entry[4:]) != 1 {
		return 0
	}
	if _, err := f.ReadAt(value, int64(order.Uint32(entry[8:]))); err != nil || order.Uint32(value[4:]) == 0 {
		return 0
	}
	return float64(order.Uint32(value)) / float64(order.Uint32(value[4:]))
}

// mostParts bounds the search through a file's parts for its resolution.
const mostParts = 1000

// pngScale reads the chunk pHYs, which stands before the picture's data.
func pngScale(f io.ReaderAt, size int64) (x, y float64) {
	chunk := make([]byte, 17)
	at := int64(8)
	for range mostParts {
		if n, _ := f.ReadAt(chunk, at); n < 8 {
			return 0, 0
		}
		length := int64(binary.BigEndian.Uint32(chunk))
		switch string(chunk[4:8]) {
		case "pHYs":
			perMetre := [2]float64{float64(binary.BigEndian.Uint32(chunk[8:])), float64(binary.BigEndian.Uint32(chunk[12:]))}
			if length != 9 || chunk[16] != 1 || perMetre[0] == 0 || perMetre[1] == 0 {
				return 0, 0
			}
			return 1e6 / perMetre[0], 1e6 / perMetre[1]
		case "IDAT", "IEND":
			return 0, 0
		}
		if at += 12 + length; at >= size {
			return 0, 0
		}
	}
	return 0, 0
}

// jpegHead reads the density of the JFIF head, and whether the frame is progressive.
func jpegHead(f io.ReaderAt, size int64) (x, y float64, progressive bool) {
	part := make([]byte, 16)
	at := int64(2)
	for range mostParts {
		n, _ := f.ReadAt(part, at)
		if n < 4 || part[0] != 0xff {
			return x, y, progressive
		}
		switch marker := part[1]; {
		case marker == 0xff: // fill
			at++
			continue
		case marker == 0xe0 && n == 16 && string(part[4:9]) == "JFIF\x00":
			unit := map[byte]float64{1: umPerInch, 2: umPerCm}[part[11]]
			across, down := float64(binary.BigEndian.Uint16(part[12:])), float64(binary.BigEndian.Uint16(part[14:]))
			if unit > 0 && across > 0 && down > 0 {
				x, y = unit/across, unit/down
			}
		case marker == 0xc2:
			progressive = true
		case marker == 0xda || marker == 0xd9: // the picture's data, or the end
			return x, y, progressive
		}
		if at += 2 + int64(binary.BigEndian.Uint16(part[2:])); at >= size {
			return x, y, progressive
		}
	}
	return x, y, progressive
}

package pictures

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"testing"

	"golang.org/x/image/tiff"
)

func crc(b []byte) uint32 { return crc32.ChecksumIEEE(b) }

// withPHYs puts a pHYs chunk behind the head of a PNG.
func withPHYs(raw []byte, across, down uint32, unit byte) []byte {
	body := append([]byte("pHYs"), make([]byte, 9)...)
	binary.BigEndian.PutUint32(body[4:], across)
	binary.BigEndian.PutUint32(body[8:], down)
	body[12] = unit
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc(body))
	out := append(bytes.Clone(raw[:33]), chunk...)
	return append(out, raw[33:]...)
}

// withDensity puts a JFIF head in front of a JPEG's other parts.
func withDensity(raw []byte, unit byte, dots uint16) []byte {
	head := []byte{0xff, 0xe0, 0, 16, 'J', 'F', 'I', 'F', 0, 1, 1, unit, 0, 0, 0, 0, 0, 0}
	binary.BigEndian.PutUint16(head[12:], dots)
	binary.BigEndian.PutUint16(head[14:], dots)
	return append(append(bytes.Clone(raw[:2]), head...), raw[2:]...)
}

// withTIFFScale overwrites the resolution that Go's encoder wrote, 72 to an inch.
func withTIFFScale(t testing.TB, raw []byte, dots uint32, unit uint16) []byte {
	t.Helper()
	out := bytes.Clone(raw)
	order := binary.LittleEndian
	at := int(order.Uint32(out[4:]))
	for i := range int(order.Uint16(out[at:])) {
		entry := out[at+2+12*i:]
		switch order.Uint16(entry) {
		case 282, 283:
			order.PutUint32(out[order.Uint32(entry[8:]):], dots)
		case 296:
			order.PutUint16(entry[8:], unit)
		}
	}
	return out
}

// FuzzDecode lets nothing through that is out of bounds, and never ends the program: what
// is taken has the size that it says; all else is a refusal in words.
func FuzzDecode(f *testing.F) {
	small := ramp(40, 30)
	for _, raw := range [][]byte{
		asPNG(f, small), asJPEG(f, small), asTIFF(f, small, tiff.Uncompressed), asTIFF(f, small, tiff.Deflate),
		asPNG(f, image.NewPaletted(image.Rect(0, 0, 9, 9), color.Palette{color.Black, color.White})), withPHYs(asPNG(f, small), 500_000, 500_000, 1),
		withDensity(asJPEG(f, small), 2, 4000), withTIFFScale(f, asTIFF(f, small, tiff.Uncompressed), 8000, 3),
		sized(asPNG(f, small), 9_900, 10_000), []byte("II*\x00\xff\xff\xff\xff"), []byte("MM\x00*\x00\x00\x00\x08\xff\xff"), {},
	} {
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		picture, head, err := decode(t.Context(), bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			var r *Refusal
			if !errors.As(err, &r) || r.Reason == 0 {
				t.Fatalf("Not taken, but not refused in our words either: %v", err)
			}
			return
		}
		if b := picture.Bounds(); b.Dx() != head.width || b.Dy() != head.height || b.Dx()*b.Dy() > MostPixels {
			t.Fatalf("Taken with %v although its head says %d × %d.", b, head.width, head.height)
		}
		if head.umPerPixel != 0 && !(head.umPerPixel >= finest && head.umPerPixel <= coarsest) {
			t.Fatalf("Taken with %v µm per pixel.", head.umPerPixel)
		}
		low, high := window(picture)
		if shown := eightBits(picture, low, high); shown.Bounds().Size() != picture.Bounds().Size() {
			t.Fatalf("Shown with %v, decoded with %v.", shown.Bounds(), picture.Bounds())
		}
		if grey := greyOf(picture); grey.Bounds().Size() != picture.Bounds().Size() {
			t.Fatalf("Grey has %v, the picture %v.", grey.Bounds(), picture.Bounds())
		}
	})
}

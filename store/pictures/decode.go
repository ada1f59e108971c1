package pictures

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/tiff"
)

// decoding lets one picture be decoded at a time in the whole process: each may need
// most of a gigabyte.
var decoding = make(chan struct{}, 1)

// file is the original that is read: a file, or bytes.
type file interface {
	io.Reader
	io.ReaderAt
	io.Seeker
}

// facts are what the head of a file says.
type facts struct {
	format        string
	width, height int
	model         color.Model
	progressive   bool
	umPerPixel    float64
}

// decode is the picture in a file of so many bytes, refused in words when it is out
// of bounds, and the facts of its head. It waits for its turn, until ctx ends.
func decode(ctx context.Context, f file, size int64) (image.Image, facts, error) {
	select {
	case decoding <- struct{}{}:
		defer func() { <-decoding }()
	case <-ctx.Done():
		return nil, facts{}, ctx.Err()
	}
	head, err := readHead(f, size)
	if err != nil {
		return nil, head, err
	}
	picture, err := guarded(head.format, f, size, func() (image.Image, error) {
		switch head.format {
		case "tiff":
			return tiff.Decode(f)
		case "png":
			return png.Decode(f)
		}
		return jpeg.Decode(f)
	})
	if err != nil {
		return nil, head, err
	}
	if b := picture.Bounds(); b.Dx() != head.width || b.Dy() != head.height {
		return nil, head, &Refusal{Reason: Damaged, Format: head.format, Bytes: size, Detail: "its size is not the one it says"}
	}
	return picture, head, nil
}

// guarded runs a decoder from the start of the file, and makes a refusal of its error
// or of its panic: what is sent in must not stop the program.
func guarded[T any](format string, f file, size int64, read func() (T, error)) (out T, err error) {
	defer func() {
		if trouble := recover(); trouble != nil {
			err = &Refusal{Reason: Damaged, Format: format, Bytes: size, Detail: fmt.Sprint(trouble)}
		}
	}()
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return out, fmt.Errorf("going to the start of a picture: %w", err)
	}
	out, err = read()
	return out, refused(err, format, size)
}

// refused says in our words why a decoder gave up.
func refused(err error, format string, size int64) error {
	var kind Reason
	var tiffLacks tiff.UnsupportedError
	var pngLacks png.UnsupportedError
	var jpegLacks jpeg.UnsupportedError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &tiffLacks), errors.As(err, &pngLacks), errors.As(err, &jpegLacks):
		kind = Unsupported
	default:
		kind = Damaged
	}
	return &Refusal{Reason: kind, Format: format, Bytes: size, Detail: err.Error()}
}

// readHead reads what the file says of itself and holds it against the bounds, before
// memory is asked for.
func readHead(f file, size int64) (facts, error) {
	if size > MostBytes {
		return facts{}, &Refusal{Reason: TooHeavy, Bytes: size}
	}
	head := facts{format: formatOf(f)}
	if head.format == "" {
		return head, &Refusal{Reason: NotPicture, Bytes: size}
	}
	if isBigTIFF(f) {
		return head, &Refusal{Reason: Unsupported, Format: "tiff", Bytes: size, Detail: "it is a BigTIFF"}
	}
	if w, h := pngSays(f, head.format); w > MostPixels || h > MostPixels { // the decoder would call it unsupported
		return head, &Refusal{Reason: TooLarge, Format: head.format, Width: w, Height: h, Bytes: size}
	}
	config, err := guarded(head.format, f, size, func() (image.Config, error) {
		switch head.format {
		case "tiff":
			return tiff.DecodeConfig(f)
		case "png":
			return png.DecodeConfig(f)
		}
		return jpeg.DecodeConfig(f)
	})
	if err != nil {
		return head, err
	}
	head.width, head.height, head.model = config.Width, config.Height, config.ColorModel
	head.resolution(f, size)
	return head, head.bounded(size)
}

func (h *facts) bounded(size int64) error {
	refusal := &Refusal{Format: h.format, Width: h.width, Height: h.height, Bytes: size}
	w, t := int64(h.width), int64(h.height)
	switch {
	case w < 1 || t < 1:
		refusal.Reason, refusal.Detail = Damaged, "it has no pixels"
	case w > MostPixels || t > MostPixels || w*t > MostPixels:
		refusal.Reason = TooLarge
	case w*t*h.bytesPerPixel() > mostDecoded:
		refusal.Reason = TooDeep
	case w*t/mostSqueeze > size:
		refusal.Reason = Squeezed
	default:
		return nil
	}
	return refusal
}

// bytesPerPixel is what a pixel takes while it is decoded.
func (h *facts) bytesPerPixel() int64 {
	if h.progressive { // coefficients of 4 bytes beside the three channels
		return 15
	}
	switch h.model {
	case color.GrayModel:
		return 1
	case color.Gray16Model:
		return 2
	case color.RGBA64Model, color.NRGBA64Model:
		return 8
	case color.YCbCrModel:
		return 3
	}
	return 4
}

// depth is the bits of a channel.
func (h *facts) depth() int {
	switch h.model {
	case color.Gray16Model, color.RGBA64Model, color.NRGBA64Model:
		return 16
	}
	return 8
}

// formatOf tells the format by the first bytes, "" when it is none of ours.
func formatOf(f io.ReaderAt) string {
	var b [8]byte
	n, _ := f.ReadAt(b[:], 0) // a short file has no format
	switch head := string(b[:n]); {
	case n >= 4 && (head[:4] == "II*\x00" || head[:4] == "MM\x00*" || head[:4] == "II+\x00" || head[:4] == "MM\x00+"):
		return "tiff"
	case head == "\x89PNG\r\n\x1a\n":
		return "png"
	case n >= 3 && head[:3] == "\xff\xd8\xff":
		return "jpeg"
	}
	return ""
}

// pngSays is the width and height in the head of a PNG, 0 of anything else.
func pngSays(f io.ReaderAt, format string) (width, height int) {
	var b [8]byte
	if _, err := f.ReadAt(b[:], 16); format != "png" || err != nil {
		return 0, 0
	}
	return int(binary.BigEndian.Uint32(b[:])), int(binary.BigEndian.Uint32(b[4:]))
}

func isBigTIFF(f io.ReaderAt) bool {
	var b [4]byte
	_, err := f.ReadAt(b[:], 0)
	return err == nil && (string(b[:]) == "II+\x00" || string(b[:]) == "MM\x00+")
}

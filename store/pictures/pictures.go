// Package pictures keeps pictures of sections under the hash of their bytes, ready to be looked at.
//
// A picture is taken in once: checked, decoded, cut into tiles of 512 pixels at every
// halving of its size, and put away with its original, which is never changed. Its
// address is the SHA-256 of the original, so that the same bytes are the same picture
// and no address can lead out of the folder. Tiles have 8 bits; brightness along an
// axis is read from the original at its full depth (Grey).
package pictures

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
)

// Hash is the SHA-256 of a picture's original bytes: its address. The zero Hash is
// unknown.
type Hash [sha256.Size]byte

// String is the hash in 64 small hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// ParseHash reads what String wrote, and nothing else.
func ParseHash(text string) (Hash, error) {
	var h Hash
	if len(text) == hex.EncodedLen(len(h)) {
		if _, err := hex.Decode(h[:], []byte(text)); err == nil && h.String() == text {
			return h, nil
		}
	}
	return Hash{}, errors.New("the address of a picture is 64 digits from 0 to 9 and a to f")
}

// Picture is what is known of a picture from its bytes alone.
type Picture struct {
	Hash          Hash    `json:"-"`
	Width, Height int     // pixels, at least 1
	Depth         int     // bits of a channel in the original: 8 or 16
	Colour        bool    // more than grey
	Format        string  // tiff, png or jpeg
	Bytes         int64   // of the original
	FileUmPerPx   float64 // scale by the file's own resolution, 0 when it says none that fits a microscope
	Low, High     float64 // of a picture of 16 bits: the brightnesses, 0 to 1, that tiles show as black and white
	Tiles         int     // over all levels
}

// Levels is how many sizes there are tiles of: 0 is the full one, each next is half as
// large, and the last fits into one tile.
func (p Picture) Levels() int {
	levels := 1
	for w, h := p.Width, p.Height; w > TileSize || h > TileSize; levels++ {
		w, h = (w+1)/2, (h+1)/2
	}
	return levels
}

// Size is the width and height of a level.
func (p Picture) Size(level int) (width, height int) {
	width, height = p.Width, p.Height
	for range level {
		width, height = (width+1)/2, (height+1)/2
	}
	return width, height
}

// UmPerPixel is the scale to use: the given one when it is above 0, else the file's own.
// known is false when there is neither.
//
// A scale from a stage micrometer, checked at each change of objective, is better than
// whatever a camera wrote into a file; so what is given wins.
func (p Picture) UmPerPixel(given float64) (um float64, known bool) {
	if given > 0 {
		return given, true
	}
	return p.FileUmPerPx, p.FileUmPerPx > 0
}

// The bounds of what is taken in.
const (
	MostPixels  = 100_000_000
	MostBytes   = 1 << 30   // of a file
	mostDecoded = 640 << 20 // of memory for the decoded picture
	mostSqueeze = 1100      // bytes of picture out of one of the file: Deflate reaches 1,032
)

// Reason is why a picture was refused.
type Reason uint8

// The reasons.
const (
	NotPicture  Reason = iota + 1 // neither TIFF nor PNG nor JPEG
	Unsupported                   // a kind of these that is not read
	TooLarge                      // more pixels than MostPixels
	TooDeep                       // fewer pixels, but too much memory
	TooHeavy                      // more bytes than MostBytes
	Squeezed                      // says it is larger than its bytes can hold
	Damaged                       // cut short or garbled
)

// Refusal is the error of a picture that is not taken.
type Refusal struct {
	Reason        Reason
	Format        string
	Width, Height int   // as the file says, where it was read so far
	Bytes         int64 // of the file
	Detail        string
}

func (r *Refusal) Error() string {
	size := fmt.Sprintf("%d × %d pixels", r.Width, r.Height)
	switch r.Reason {
	case NotPicture:
		return "This file is no picture that can be read. Send a TIFF, PNG or JPEG."
	case Unsupported:
		return fmt.Sprintf("This kind of %s is not read (%s). Save it again as plain TIFF or as PNG.", r.Format, r.Detail)
	case TooLarge:
		return fmt.Sprintf("The picture has %s; up to %d megapixels are taken. Cut it to the stone, or halve its size.", size, MostPixels/1_000_000)
	case TooDeep:
		return fmt.Sprintf("The picture has %s and would fill more than %d MB once unpacked. Save it as grey, with 8 bits a colour, or without progressive JPEG.", size, mostDecoded>>20)
	case TooHeavy:
		return fmt.Sprintf("The file has more than %d MB. Save it with compression, or cut it to the stone.", MostBytes>>20)
	case Squeezed:
		return fmt.Sprintf("The file says that it holds %s, which its %d bytes cannot. It is damaged, or not what it says it is: save it again from where it came.", size, r.Bytes)
	case Damaged:
		return fmt.Sprintf("The %s breaks off or is garbled (%s). Copy it again from where it came.", r.Format, r.Detail)
	}
	return "The picture was refused."
}

// ErrNotFound is the error for a picture or a tile that is not there.
var ErrNotFound = errors.New("there is no such picture, or no such part of it")

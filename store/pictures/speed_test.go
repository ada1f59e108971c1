package pictures

import (
	"image"
	"runtime"
	"testing"
	"time"

	"golang.org/x/image/tiff"
)

// photo is a grey picture of 40 megapixels and 16 bits, with grain, as a camera on a
// microscope gives.
func photo() *image.Gray16 {
	p := image.NewGray16(image.Rect(0, 0, 7744, 5184))
	word := uint32(1)
	for i := 0; i < len(p.Pix); i += 2 {
		word = word*1664525 + 1013904223
		v := uint16(20_000+(i/2%7744)*3) + uint16(word>>22)
		p.Pix[i], p.Pix[i+1] = byte(v>>8), byte(v)
	}
	return p
}

func BenchmarkTake40Megapixels(b *testing.B) {
	for _, c := range []struct {
		name string
		kind tiff.CompressionType
	}{{"plain", tiff.Uncompressed}, {"deflate", tiff.Deflate}} {
		raw := asTIFF(b, photo(), c.kind)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				take(b, open(b), raw)
			}
		})
	}
}

func BenchmarkTile(b *testing.B) {
	f := open(b)
	p := take(b, f, asTIFF(b, ramp(2000, 1500), tiff.Uncompressed))
	for b.Loop() {
		if _, err := f.Tile(p.Hash, 0, 1, 1); err != nil {
			b.Fatal(err)
		}
	}
}

// A step of the zoom fetches some six tiles in 100 ms.
func TestTileIsThereAtOnce(t *testing.T) {
	f := open(t)
	p := take(t, f, asTIFF(t, ramp(2000, 1500), tiff.Uncompressed))
	best := time.Hour
	for range 5 {
		begun := time.Now()
		for k := range 6 {
			if _, err := f.Tile(p.Hash, 0, k%3, k/3); err != nil {
				t.Fatal(err)
			}
		}
		best = min(best, time.Since(begun))
	}
	if best > 100*time.Millisecond {
		t.Errorf("Six tiles take %v from disk, want 100 ms at most.", best)
	}
}

func TestLargePictureInTimeAndMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("takes in 40 megapixels")
	}
	f, raw := open(t), asTIFF(t, photo(), tiff.Uncompressed)
	begun := time.Now()
	p := take(t, f, raw)
	took := time.Since(begun)
	var memory runtime.MemStats
	runtime.ReadMemStats(&memory)
	t.Logf("40 megapixels of 16 bits ready in %v, %d tiles, %d MB from the system", took.Round(10*time.Millisecond), p.Tiles, memory.Sys>>20)
	// 4 s on idle cores; what is caught here on busy ones is work done many times over.
	if took > 40*time.Second {
		t.Errorf("A picture of 40 megapixels is ready after %v.", took)
	}
	if memory.Sys > 1<<30 { // the test's own two copies of the picture are in it
		t.Errorf("Taking in 40 megapixels took %d MB from the system, want 1,024 at most.", memory.Sys>>20)
	}
}

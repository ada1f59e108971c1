package pictures

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

// ramp is a grey picture of 16 bits, darker to the left, in a camera's 12 bits.
func ramp(width, height int) *image.Gray16 {
	p := image.NewGray16(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			p.SetGray16(x, y, color.Gray16{Y: uint16((x*4095/width)<<4 + y%16)})
		}
	}
	return p
}

func asTIFF(t testing.TB, p image.Image, c tiff.CompressionType) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := tiff.Encode(&out, p, &tiff.Options{Compression: c}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func asPNG(t testing.TB, p image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, p); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func asJPEG(t testing.TB, p image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, p, nil); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func open(t testing.TB) *Folder {
	t.Helper()
	f, err := Open(filepath.Join(t.TempDir(), "pictures"))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func take(t testing.TB, f *Folder, raw []byte) Picture {
	t.Helper()
	p, err := f.Take(t.Context(), bytes.NewReader(raw))
	if err != nil {
		t.Fatalf("A sound picture was not taken: %v", err)
	}
	return p
}

func TestTakeKeepsTheOriginal(t *testing.T) {
	f, raw := open(t), asTIFF(t, ramp(1300, 700), tiff.Deflate)
	p := take(t, f, raw)
	if p.Width != 1300 || p.Height != 700 || p.Depth != 16 || p.Colour || p.Format != "tiff" || p.Bytes != int64(len(raw)) {
		t.Errorf("A grey TIFF of 1300 × 700 pixels and 16 bits was taken as %+v.", p)
	}
	in, err := f.Original(p.Hash)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if back, err := io.ReadAll(in); err != nil || !bytes.Equal(back, raw) {
		t.Errorf("The original came back with %d bytes of %d (%v).", len(back), len(raw), err)
	}
	if again := take(t, f, raw); again != p {
		t.Errorf("The same bytes taken twice are %+v and %+v.", p, again)
	}
	if read, err := f.Picture(p.Hash); err != nil || read != p {
		t.Errorf("What is known of the picture came back as %+v (%v), want %+v.", read, err, p)
	}
	left, err := filepath.Glob(filepath.Join(f.dir, takingPrefix+"*"))
	if err != nil || len(left) != 0 {
		t.Errorf("Taking in left %v behind.", left)
	}
}

func TestDepthIsKept(t *testing.T) {
	f, src := open(t), ramp(600, 40)
	for _, raw := range [][]byte{asTIFF(t, src, tiff.Uncompressed), asPNG(t, src)} {
		p := take(t, f, raw)
		grey, err := f.Grey(t.Context(), p.Hash)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(grey.Pix, src.Pix) {
			t.Errorf("The brightness of a %s of 16 bits did not come back to the last bit.", p.Format)
		}
	}
}

// All but a thousandth at either end spread over black to white.
func TestTilesShowTwelveBitsWhole(t *testing.T) {
	src := image.NewGray16(image.Rect(0, 0, 500, 400))
	for y := range 400 {
		for x := range 500 {
			src.SetGray16(x, y, color.Gray16{Y: uint16(1000 + 4*x)}) // a thirtieth of the range
		}
	}
	f := open(t)
	p := take(t, f, asTIFF(t, src, tiff.Uncompressed))
	tile := decodeTile(t, f, p, 0, 0, 0)
	left, right := brightness(tile, 3, 200), brightness(tile, 496, 200)
	if left > 12 || right < 243 {
		t.Errorf("A dim picture is shown from %d to %d of 255; want nearly all of it.", left, right)
	}
}

func decodeTile(t *testing.T, f *Folder, p Picture, level, col, row int) image.Image {
	t.Helper()
	raw, err := f.Tile(p.Hash, level, col, row)
	if err != nil {
		t.Fatalf("Tile %d/%d-%d: %v", level, col, row, err)
	}
	tile, err := jpeg.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatalf("Tile %d/%d-%d is no JPEG: %v", level, col, row, err)
	}
	return tile
}

func brightness(p image.Image, x, y int) int {
	return int(color.GrayModel.Convert(p.At(x, y)).(color.Gray).Y)
}

// Each level's tiles, laid side by side, are the picture at that size.
func TestTilesCoverEveryLevel(t *testing.T) {
	src := image.NewRGBA(image.Rect(0, 0, 1301, 701))
	for y := range 701 {
		for x := range 1301 {
			src.SetRGBA(x, y, color.RGBA{byte(x / 6), byte(y / 3), 40, 255})
		}
	}
	f := open(t)
	p := take(t, f, asPNG(t, src))
	if p.Levels() != 3 || !p.Colour || p.Depth != 8 {
		t.Fatalf("A picture of 1301 × 701 pixels has %d levels, colour %v, depth %d; want 3, true, 8.", p.Levels(), p.Colour, p.Depth)
	}
	total := 0
	for level := range p.Levels() {
		width, height := p.Size(level)
		for row := 0; row*TileSize < height; row++ {
			for col := 0; col*TileSize < width; col++ {
				tile := decodeTile(t, f, p, level, col, row)
				total++
				want := image.Rect(0, 0, min(TileSize, width-col*TileSize), min(TileSize, height-row*TileSize))
				if tile.Bounds() != want {
					t.Errorf("Tile %d/%d-%d covers %v, want %v.", level, col, row, tile.Bounds(), want)
				}
				x, y := want.Dx()/2, want.Dy()/2
				red, _, _, _ := tile.At(x, y).RGBA()
				if from := float64(((col*TileSize + x) << level) / 6); math.Abs(float64(red>>8)-from) > 6 {
					t.Errorf("Tile %d/%d-%d shows red %d in its middle, want about %v.", level, col, row, red>>8, from)
				}
			}
		}
	}
	if total != p.Tiles {
		t.Errorf("The picture says %d tiles, and has %d.", p.Tiles, total)
	}
	if _, err := f.Tile(p.Hash, 0, 3, 0); !errors.Is(err, ErrNotFound) {
		t.Errorf("A tile beyond the border gives %v, want ErrNotFound.", err)
	}
	if _, err := f.Tile(p.Hash, 0, -1, 0); !errors.Is(err, ErrNotFound) {
		t.Errorf("A tile of column −1 gives %v, want ErrNotFound.", err)
	}
	thumb, err := f.Thumbnail(p.Hash)
	if err != nil {
		t.Fatal(err)
	}
	small, err := jpeg.DecodeConfig(bytes.NewReader(thumb))
	if err != nil || small.Width > 256 || small.Height > 256 || small.Width < 128 {
		t.Errorf("The thumbnail has %d × %d pixels (%v), want 128 to 256.", small.Width, small.Height, err)
	}
}

func TestHalvedIsTheMean(t *testing.T) {
	src := &image.Gray{Pix: []byte{10, 20, 30, 40, 50, 60, 70, 80, 90}, Stride: 3, Rect: image.Rect(0, 0, 3, 3)}
	got := halved(src).(*image.Gray)
	// By hand: (10+20+40+50)/4, (30+60)/2; (70+80)/2, 90.
	for i, want := range []byte{30, 45, 75, 90} {
		if got.Pix[i] != want {
			t.Errorf("Pixel %d of the halved picture is %d, want %d.", i, got.Pix[i], want)
		}
	}
}

func TestGreyOfColours(t *testing.T) {
	src := image.NewRGBA(image.Rect(0, 0, 2, 1))
	src.SetRGBA(0, 0, color.RGBA{200, 100, 50, 255})
	src.SetRGBA(1, 0, color.RGBA{255, 255, 255, 255})
	got := greyOf(src)
	for x := range 2 {
		want := color.Gray16Model.Convert(src.At(x, 0)).(color.Gray16)
		if got.Gray16At(x, 0) != want {
			t.Errorf("Colour %v has brightness %d, want that of package color, %d.", src.At(x, 0), got.Gray16At(x, 0).Y, want.Y)
		}
	}
}

func TestParseHash(t *testing.T) {
	sound := strings.Repeat("0a", 32)
	if h, err := ParseHash(sound); err != nil || h.String() != sound {
		t.Errorf("%s read as %v (%v).", sound, h, err)
	}
	for _, bad := range []string{
		"", "0a", strings.Repeat("0A", 32), strings.Repeat("0g", 32), sound + "0", "../../../../../../etc/passwd",
		strings.Repeat("../", 21) + "a", "/" + sound[1:], sound[:62] + "..", sound[:63] + "\x00",
	} {
		if h, err := ParseHash(bad); err == nil {
			t.Errorf("%q passed for the address %v.", bad, h)
		}
	}
}

func refusal(t *testing.T, what string, raw []byte) *Refusal {
	t.Helper()
	f := open(t)
	_, err := f.Take(t.Context(), bytes.NewReader(raw))
	var r *Refusal
	if !errors.As(err, &r) {
		t.Fatalf("%s gave %v, want a refusal.", what, err)
	}
	if len(r.Error()) < 30 || !strings.HasSuffix(r.Error(), ".") {
		t.Errorf("%s is refused with %q, which is no sentence.", what, r.Error())
	}
	left, err := os.ReadDir(f.dir)
	if err != nil || len(left) != 0 {
		t.Errorf("%s left %v behind.", what, left)
	}
	return r
}

// sized is a PNG whose head says another size than its data, the check sum set right.
func sized(raw []byte, width, height uint32) []byte {
	out := bytes.Clone(raw)
	binary.BigEndian.PutUint32(out[16:], width)
	binary.BigEndian.PutUint32(out[20:], height)
	binary.BigEndian.PutUint32(out[29:], crc(out[12:29]))
	return out
}

func TestRefusals(t *testing.T) {
	sound := asPNG(t, ramp(300, 200))
	plain := asTIFF(t, ramp(300, 200), tiff.Uncompressed)
	deflated := asTIFF(t, ramp(300, 200), tiff.Deflate)
	photo := asJPEG(t, image.NewRGBA(image.Rect(0, 0, 300, 200)))
	cases := []struct {
		what string
		raw  []byte
		want Reason
	}{
		{"nothing at all", nil, NotPicture},
		{"a text", []byte("fish,species\nQB-1,BFT\n"), NotPicture},
		{"a GIF", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), NotPicture},
		{"a BigTIFF", append([]byte("II+\x00\x08\x00\x00\x00"), plain[8:]...), Unsupported},
		{"a PNG cut short", sound[:len(sound)/2], Damaged},
		{"a TIFF cut short", plain[:len(plain)/2], Damaged},
		{"a deflated TIFF cut short", deflated[:len(deflated)/2], Damaged},
		{"a JPEG cut short", photo[:len(photo)/2], Damaged},
		{"a PNG that says it is a little larger", sized(sound, 310, 210), Damaged},
		{"a PNG that says it is smaller", sized(sound, 100, 100), Damaged},
		{"a PNG that says it has 150 megapixels", sized(sound, 15_000, 10_000), TooLarge},
		{"a PNG that says it is 2³¹ wide", sized(sound, 1<<31-1, 1<<31-1), TooLarge},
		{"a few bytes that say they are 99 megapixels", sized(sound, 9_900, 10_000), Squeezed},
		{"a PNG whose head is garbled", append(bytes.Clone(sound[:20]), 1, 2, 3), Damaged},
	}
	for _, c := range cases {
		if got := refusal(t, c.what, c.raw); got.Reason != c.want {
			t.Errorf("%s was refused for reason %d (%v), want %d.", c.what, got.Reason, got, c.want)
		}
	}
}

func TestDeepPicturesAreBounded(t *testing.T) {
	for _, c := range []struct {
		what string
		head facts
		want Reason
	}{
		{"100 megapixels of grey, 16 bits", facts{width: 10_000, height: 10_000, model: color.Gray16Model}, 0},
		{"100 megapixels of RGBA, 8 bits", facts{width: 10_000, height: 10_000, model: color.RGBAModel}, 0},
		{"40 megapixels of RGB, 16 bits", facts{width: 7_744, height: 5_184, model: color.RGBA64Model}, 0},
		{"100 megapixels of RGB, 16 bits", facts{width: 10_000, height: 10_000, model: color.RGBA64Model}, TooDeep},
		{"80 megapixels of progressive JPEG", facts{width: 10_000, height: 8_000, model: color.YCbCrModel, progressive: true}, TooDeep},
		{"a product that does not fit 64 bits", facts{width: math.MaxInt64 / 2, height: 8, model: color.GrayModel}, TooLarge},
		{"no pixels", facts{width: 0, height: 8, model: color.GrayModel}, Damaged},
	} {
		var got Reason
		var r *Refusal
		if err := c.head.bounded(MostBytes); errors.As(err, &r) {
			got = r.Reason
		}
		if got != c.want {
			t.Errorf("%s: reason %d, want %d.", c.what, got, c.want)
		}
	}
}

func TestOneDecodeAtATime(t *testing.T) {
	decoding <- struct{}{} // another is being decoded
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := open(t).Take(ctx, bytes.NewReader(asPNG(t, ramp(30, 20))))
	<-decoding
	if !errors.Is(err, context.Canceled) {
		t.Errorf("A picture taken while another is decoded gave %v, want to have waited until it was called off.", err)
	}
}

func TestVerifyAndRebuild(t *testing.T) {
	f := open(t)
	p := take(t, f, asTIFF(t, ramp(1100, 600), tiff.Uncompressed))
	all, err := f.Hashes()
	if err != nil || len(all) != 1 || all[0] != p.Hash {
		t.Errorf("The folder lists %v (%v), want %v alone.", all, err, p.Hash)
	}
	check := func(when string, want Damage) {
		t.Helper()
		if d, err := f.Verify(p.Hash); err != nil || d != want {
			t.Errorf("%s the damage is %+v (%v), want %+v.", when, d, err, want)
		}
	}
	check("At first", Damage{})
	tiles := filepath.Join(f.place(p.Hash), tilesFolder, "0")
	if err := errors.Join(os.Remove(filepath.Join(tiles, "0-0.jpg")), os.Truncate(filepath.Join(tiles, "1-0.jpg"), 0)); err != nil {
		t.Fatal(err)
	}
	check("With one tile gone and one empty", Damage{MissingTiles: 2})
	if _, err := f.Tile(p.Hash, 0, 1, 0); !errors.Is(err, ErrNotFound) {
		t.Errorf("An empty tile gives %v, want ErrNotFound.", err)
	}
	if again, err := f.Rebuild(t.Context(), p.Hash); err != nil || again != p {
		t.Errorf("Rebuilt, the picture is %+v (%v), want %+v.", again, err, p)
	}
	check("Rebuilt,", Damage{})
	original := filepath.Join(f.place(p.Hash), originalFile)
	raw, err := os.ReadFile(original)
	if err != nil {
		t.Fatal(err)
	}
	raw[len(raw)-1] ^= 1
	if err := os.WriteFile(original, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	check("With one bit turned", Damage{Original: true})
	if _, err := f.Rebuild(t.Context(), p.Hash); err == nil {
		t.Error("A picture was rebuilt from an original that is not its own.")
	}
}

func TestScaleOfFiles(t *testing.T) {
	for _, c := range []struct {
		what string
		raw  []byte
		want float64 // µm per pixel
	}{
		{"a PNG of 500,000 pixels a metre", withPHYs(asPNG(t, ramp(30, 20)), 500_000, 500_000, 1), 2},
		{"a PNG whose pixels are not square", withPHYs(asPNG(t, ramp(30, 20)), 500_000, 400_000, 1), 0},
		{"a PNG of an unknown unit", withPHYs(asPNG(t, ramp(30, 20)), 500_000, 500_000, 0), 0},
		{"a PNG of 72 dots an inch", withPHYs(asPNG(t, ramp(30, 20)), 2835, 2835, 1), 0},
		{"a JPEG of 4,000 dots a centimetre", withDensity(asJPEG(t, ramp(30, 20)), 2, 4000), 2.5},
		{"a JPEG of 25,400 dots an inch", withDensity(asJPEG(t, ramp(30, 20)), 1, 25_400), 1},
		{"a TIFF as Go writes it, 72 dots an inch", asTIFF(t, ramp(30, 20), tiff.Uncompressed), 0},
		{"a TIFF of 8,000 dots a centimetre", withTIFFScale(t, asTIFF(t, ramp(30, 20), tiff.Uncompressed), 8000, 3), 1.25},
	} {
		if got := take(t, open(t), c.raw).FileUmPerPx; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s has %v µm per pixel, want %v.", c.what, got, c.want)
		}
	}
	if um, known := (Picture{FileUmPerPx: 2}).UmPerPixel(1.5); um != 1.5 || !known {
		t.Errorf("Of a given scale of 1.5 and a file's of 2, %v is used.", um)
	}
	if _, known := (Picture{}).UmPerPixel(0); known {
		t.Error("A picture without any scale says that it knows one.")
	}
}

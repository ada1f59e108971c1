package pictures_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"os"

	"earstone/store/pictures"
)

// A picture goes in, a tile comes out; the same bytes have the same address for ever.
func ExampleFolder_Take() {
	dir, err := os.MkdirTemp("", "pictures")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	folder, err := pictures.Open(dir)
	if err != nil {
		fmt.Println(err)
		return
	}
	var file bytes.Buffer
	if err := png.Encode(&file, image.NewGray16(image.Rect(0, 0, 1200, 800))); err != nil {
		fmt.Println(err)
		return
	}
	p, err := folder.Take(context.Background(), &file)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.Width, "by", p.Height, "pixels of", p.Depth, "bits in", p.Levels(), "sizes")
	_, known := p.UmPerPixel(0)
	fmt.Println("scale known:", known)

	_, err = folder.Take(context.Background(), bytes.NewReader([]byte("length,date\n214,14 August\n")))
	fmt.Println(err)
	// Output:
	// 1200 by 800 pixels of 16 bits in 3 sizes
	// scale known: false
	// This file is no picture that can be read. Send a TIFF, PNG or JPEG.
}

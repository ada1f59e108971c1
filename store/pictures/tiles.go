package pictures

import (
	"bufio"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"sync"
)

// TileSize is the width and height of a tile in pixels; at the right and lower border
// a tile is as large as what is left.
const TileSize = 512

const (
	tileQuality   = 85
	thumbnailSide = 256
	cutters       = 2 // tiles are packed by two at a time
)

// subPicture is what both kinds of 8 bits can do.
type subPicture interface {
	image.Image
	SubImage(image.Rectangle) image.Image
}

// cut writes the tiles of all levels and the thumbnail into a folder, and tells how
// many tiles there are. It asks ctx once a row of tiles.
func cut(ctx context.Context, dir string, picture image.Image) (tiles int, err error) {
	for level := 0; ; level++ {
		b := picture.Bounds()
		n, err := cutLevel(ctx, filepath.Join(dir, tilesFolder, fmt.Sprint(level)), picture.(subPicture))
		if err != nil {
			return 0, err
		}
		tiles += n
		if b.Dx() <= TileSize && b.Dy() <= TileSize {
			break
		}
		picture = halved(picture)
	}
	for picture.Bounds().Dx() > thumbnailSide || picture.Bounds().Dy() > thumbnailSide {
		picture = halved(picture)
	}
	return tiles, writeJPEG(filepath.Join(dir, thumbnailFile), picture)
}

// cutLevel writes the tiles of one level.
func cutLevel(ctx context.Context, dir string, picture subPicture) (int, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return 0, fmt.Errorf("making a folder for tiles: %w", err)
	}
	size := picture.Bounds()
	across, down := (size.Dx()+TileSize-1)/TileSize, (size.Dy()+TileSize-1)/TileSize
	var trouble error
	var once sync.Once
	var team sync.WaitGroup
	for k := range cutters {
		team.Go(func() {
			for row := k; row < down; row += cutters {
				err := ctx.Err()
				for col := 0; col < across && err == nil; col++ {
					at := image.Rect(col*TileSize, row*TileSize, (col+1)*TileSize, (row+1)*TileSize).Intersect(size)
					err = writeJPEG(filepath.Join(dir, tileFile(col, row)), picture.SubImage(at))
				}
				if err != nil {
					once.Do(func() { trouble = err })
					return
				}
			}
		})
	}
	team.Wait()
	return across * down, trouble
}

func tileFile(col, row int) string { return fmt.Sprintf("%d-%d.jpg", col, row) }

func writeJPEG(name string, picture image.Image) error {
	f, err := os.Create(name)
	if err != nil {
		return fmt.Errorf("writing a tile: %w", err)
	}
	w := bufio.NewWriterSize(f, 1<<16)
	err = jpeg.Encode(w, picture, &jpeg.Options{Quality: tileQuality})
	if err == nil {
		err = w.Flush()
	}
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return fmt.Errorf("writing a tile: %w", err)
	}
	return nil
}

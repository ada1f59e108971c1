package pictures

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Hashes are the pictures that lie in the folder, in the order of their hashes.
func (f *Folder) Hashes() ([]Hash, error) {
	shelves, err := os.ReadDir(f.dir)
	if err != nil {
		return nil, fmt.Errorf("listing pictures: %w", err)
	}
	var all []Hash
	for _, shelf := range shelves {
		if !shelf.IsDir() || strings.HasPrefix(shelf.Name(), ".") {
			continue
		}
		entries, err := os.ReadDir(filepath.Join(f.dir, shelf.Name()))
		if err != nil {
			return nil, fmt.Errorf("listing pictures: %w", err)
		}
		for _, e := range entries {
			if h, err := ParseHash(e.Name()); err == nil && e.IsDir() && e.Name()[:2] == shelf.Name() {
				all = append(all, h)
			}
		}
	}
	return all, nil
}

// Damage is what is wrong with one picture. The zero Damage is none.
type Damage struct {
	Original     bool // its bytes are gone, or are not those of its hash: only a copy helps
	MissingTiles int  // Rebuild makes them again
	Unknown      bool // what is known of it can't be read: Rebuild makes that again
}

// Verify reads a picture's original again and counts its tiles.
func (f *Folder) Verify(h Hash) (Damage, error) {
	var d Damage
	in, err := f.Original(h)
	if err != nil {
		d.Original = true
	} else {
		defer in.Close()
		sum := sha256.New()
		if _, err := io.Copy(sum, in); err != nil {
			return d, fmt.Errorf("reading picture %v: %w", h, err)
		}
		d.Original = Hash(sum.Sum(nil)) != h
	}
	p, err := f.Picture(h)
	if err != nil {
		d.Unknown = true
		return d, nil
	}
	for level := range p.Levels() {
		width, height := p.Size(level)
		for row := 0; row*TileSize < height; row++ {
			for col := 0; col*TileSize < width; col++ {
				info, err := os.Stat(filepath.Join(f.place(h), tilesFolder, fmt.Sprint(level), tileFile(col, row)))
				if err != nil || info.Size() == 0 {
					d.MissingTiles++
				}
			}
		}
	}
	return d, nil
}

// Rebuild makes all that is kept beside an original again from it.
func (f *Folder) Rebuild(ctx context.Context, h Hash) (Picture, error) {
	if d, err := f.Verify(h); err != nil || d.Original {
		if err == nil {
			err = ErrNotFound
		}
		return Picture{}, err
	}
	return prepare(ctx, f.place(h), h)
}

package pictures

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Folder is a folder of pictures. A picture lies under its hash, in
//
//	ab/abcd…/original        the bytes that were taken in
//	ab/abcd…/picture.json    what is known of them
//	ab/abcd…/thumbnail.jpg   at most 256 pixels a side
//	ab/abcd…/tiles/0/3-1.jpg level 0, fourth column, second row
//
// and appears there whole, by one rename. It may be used from several goroutines.
type Folder struct{ dir string }

const (
	originalFile  = "original"
	pictureFile   = "picture.json"
	thumbnailFile = "thumbnail.jpg"
	tilesFolder   = "tiles"
	takingPrefix  = ".taking-"
)

// Open is the pictures in a folder, which is made when it is not there. What a Take that
// was killed left behind is swept away.
func Open(dir string) (*Folder, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("opening the folder of pictures: %w", err)
	}
	sweep(dir, time.Now().Add(-abandoned))
	return &Folder{dir}, nil
}

// abandoned is how long after its beginning no Take is still at work, in this process or
// another: it takes seconds, and minutes from a slow disk.
const abandoned = 24 * time.Hour

// sweep removes the desks that were set up before a time. One that can't be removed takes
// room and does nothing else.
func sweep(dir string, before time.Time) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, entry := range entries {
		about, err := entry.Info()
		if err == nil && entry.IsDir() && strings.HasPrefix(entry.Name(), takingPrefix) && about.ModTime().Before(before) {
			_ = os.RemoveAll(filepath.Join(dir, entry.Name()))
		}
	}
}

// place is where a picture lies. A Hash can't hold anything but digits.
func (f *Folder) place(h Hash) string {
	text := h.String()
	return filepath.Join(f.dir, text[:2], text)
}

// Take takes a picture in and makes it ready to be looked at; when it is there already
// it is not done again. What is refused is a *Refusal and leaves nothing behind.
//
// The original is on disk before Take returns (fsync); tiles can be made again from it
// (Rebuild), and are not waited for.
func (f *Folder) Take(ctx context.Context, from io.Reader) (Picture, error) {
	desk, err := os.MkdirTemp(f.dir, takingPrefix)
	if err != nil {
		return Picture{}, fmt.Errorf("taking in a picture: %w", err)
	}
	defer os.RemoveAll(desk)
	hash, err := keep(filepath.Join(desk, originalFile), from)
	if err != nil {
		return Picture{}, err
	}
	if there, err := f.Picture(hash); err == nil {
		return there, nil
	}
	p, err := prepare(ctx, desk, hash)
	if err != nil {
		return Picture{}, err
	}
	return p, f.install(desk, hash)
}

// keep writes the bytes to disk and hashes them on their way.
func keep(name string, from io.Reader) (Hash, error) {
	out, err := os.Create(name)
	if err != nil {
		return Hash{}, fmt.Errorf("keeping a picture: %w", err)
	}
	defer out.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(out, sum), io.LimitReader(from, MostBytes+1))
	if err == nil && n > MostBytes {
		return Hash{}, &Refusal{Reason: TooHeavy, Bytes: n}
	}
	if err == nil {
		err = out.Sync()
	}
	if err != nil {
		return Hash{}, fmt.Errorf("keeping a picture: %w", err)
	}
	return Hash(sum.Sum(nil)), out.Close()
}

// prepare decodes the original on a desk and writes all else beside it.
func prepare(ctx context.Context, desk string, hash Hash) (Picture, error) {
	decoded, head, size, err := decodeFile(ctx, filepath.Join(desk, originalFile))
	if err != nil {
		return Picture{}, err
	}
	p := Picture{
		Hash: hash, Width: head.width, Height: head.height, Depth: head.depth(),
		Colour: !isGrey(decoded), Format: head.format, Bytes: size, FileUmPerPx: head.umPerPixel,
	}
	p.Low, p.High = window(decoded)
	shown := eightBits(decoded, p.Low, p.High)
	decoded = nil // it is the larger of the two, and not needed while tiles are cut
	if p.Tiles, err = cut(ctx, desk, shown); err != nil {
		return Picture{}, err
	}
	text, err := json.MarshalIndent(p, "", "\t")
	if err != nil {
		return Picture{}, fmt.Errorf("describing picture %v: %w", hash, err)
	}
	return p, writeSynced(filepath.Join(desk, pictureFile), text)
}

func isGrey(p image.Image) bool {
	switch p.(type) {
	case *image.Gray, *image.Gray16:
		return true
	}
	return false
}

func decodeFile(ctx context.Context, name string) (image.Image, facts, int64, error) {
	in, err := os.Open(name)
	if err != nil {
		return nil, facts{}, 0, fmt.Errorf("opening a picture: %w", err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return nil, facts{}, 0, fmt.Errorf("opening a picture: %w", err)
	}
	decoded, head, err := decode(ctx, in, info.Size())
	return decoded, head, info.Size(), err
}

// install moves what lies on a desk to its place. Another may have been quicker with
// the same picture: then it lies there already.
func (f *Folder) install(desk string, hash Hash) error {
	place := f.place(hash)
	if err := os.MkdirAll(filepath.Dir(place), 0o755); err != nil {
		return fmt.Errorf("putting picture %v away: %w", hash, err)
	}
	if err := os.Rename(desk, place); err != nil {
		if _, there := f.Picture(hash); there == nil {
			return nil
		}
		return fmt.Errorf("putting picture %v away: %w", hash, err)
	}
	if err := os.Chmod(place, 0o755); err != nil {
		return fmt.Errorf("putting picture %v away: %w", hash, err)
	}
	for _, dir := range []string{place, filepath.Dir(place), f.dir} {
		if err := syncFolder(dir); err != nil {
			return fmt.Errorf("putting picture %v away: %w", hash, err)
		}
	}
	return nil
}

func syncFolder(name string) error {
	dir, err := os.Open(name)
	if err != nil {
		return err
	}
	defer dir.Close()
	if err := dir.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrPermission) {
		return err // Windows lets no folder be synced, and needs none
	}
	return nil
}

func writeSynced(name string, text []byte) error {
	out, err := os.Create(name)
	if err != nil {
		return fmt.Errorf("writing %s: %w", filepath.Base(name), err)
	}
	defer out.Close()
	if _, err = out.Write(text); err == nil {
		err = out.Sync()
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w", filepath.Base(name), err)
	}
	return out.Close()
}

// Picture is what is known of a picture; ErrNotFound when it is not there.
func (f *Folder) Picture(h Hash) (Picture, error) {
	text, err := f.read(h, pictureFile)
	if err != nil {
		return Picture{}, err
	}
	var p Picture
	if err := json.Unmarshal(text, &p); err != nil {
		return Picture{}, fmt.Errorf("reading what is known of picture %v: %w", h, err)
	}
	p.Hash = h
	return p, nil
}

// Tile is the JPEG of one tile; ErrNotFound when there is none at that level, column and
// row.
func (f *Folder) Tile(h Hash, level, col, row int) ([]byte, error) {
	if level < 0 || col < 0 || row < 0 {
		return nil, ErrNotFound
	}
	return f.read(h, filepath.Join(tilesFolder, fmt.Sprint(level), tileFile(col, row)))
}

// Thumbnail is a JPEG of at most 256 pixels a side.
func (f *Folder) Thumbnail(h Hash) ([]byte, error) { return f.read(h, thumbnailFile) }

func (f *Folder) read(h Hash, name string) ([]byte, error) {
	text, err := os.ReadFile(filepath.Join(f.place(h), name))
	if errors.Is(err, fs.ErrNotExist) || (err == nil && len(text) == 0) { // empty: cut off by a power failure
		return nil, ErrNotFound
	}
	if err != nil {
		return nil, fmt.Errorf("reading picture %v: %w", h, err)
	}
	return text, nil
}

// Original opens the bytes that were taken in.
func (f *Folder) Original(h Hash) (io.ReadCloser, error) {
	in, err := os.Open(filepath.Join(f.place(h), originalFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNotFound
	}
	if err != nil {
		return nil, fmt.Errorf("opening picture %v: %w", h, err)
	}
	return in, nil
}

// Grey is the brightness of a picture at the depth of its original, for the profile
// along an axis. It decodes the original anew and waits for its turn.
func (f *Folder) Grey(ctx context.Context, h Hash) (*image.Gray16, error) {
	decoded, _, _, err := decodeFile(ctx, filepath.Join(f.place(h), originalFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNotFound
	}
	if err != nil {
		return nil, err
	}
	return greyOf(decoded), nil
}

package backup

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"earstone/store/history"
	"earstone/store/pictures"
	"earstone/store/sqlite"
)

// Report is what Verify found.
type Report struct {
	Records  history.Proof
	Pictures int // that records name with a hash
	Whole    int // of those, pictures that are as they were
	damage   []history.Damage
}

// Damage is all that is not as it was written.
func (r *Report) Damage() []history.Damage {
	return append(append([]history.Damage(nil), r.Records.Damage...), r.damage...)
}

// Verify proves a programme, or a backup of one: every entry against its hash, every
// picture against the hash that its record has, and every file against the list of a
// backup. What can't be read is damage, and what else is whole is told all the same.
func Verify(ctx context.Context, dir string, progress Progress) (report Report, err error) {
	if err := listed(ctx, dir, &report); err != nil {
		return report, err
	}
	store, err := sqlite.Read(ctx, dir)
	if errors.Is(err, history.ErrDamaged) {
		report.Records.Damage = []history.Damage{{What: "file", How: "it can't be read as a programme at all"}}
		return report, nil
	}
	if err != nil {
		return report, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	report.Records, err = store.Verify(ctx, func(done, of int) { progress.tell("verifying the records", done, of) })
	if err != nil {
		return report, err
	}
	return report, images(ctx, store, dir, &report, progress)
}

// images holds each picture that a record names against its hash. A record without a
// hash promises nothing.
func images(ctx context.Context, store history.Store, dir string, report *Report, progress Progress) error {
	root, err := os.OpenRoot(filepath.Join(dir, sqlite.Pictures))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("verifying the pictures: %w", err)
	}
	var folder *pictures.Folder
	if root != nil {
		defer root.Close()
		if folder, err = pictures.Open(root.Name()); err != nil {
			return err
		}
	}
	err = store.Each(ctx, history.Images, func(r *history.Record) error {
		for i := range r.Heads {
			fields := r.Heads[i].Fields
			if fields["sha256"] == "" {
				continue
			}
			report.Pictures++
			progress.tell("verifying the pictures", report.Pictures, 0)
			if how := picture(folder, root, fields["file"], fields["sha256"]); how != "" {
				report.damage = append(report.damage, history.Damage{What: "picture", Entry: r.Heads[i].ID, Kind: r.Kind,
					Label: history.Label(r.Kind, fields), How: strings.TrimSpace(fields["file"] + " " + how)})
			} else {
				report.Whole++
			}
		}
		return ctx.Err()
	})
	if errors.Is(err, history.ErrDamaged) { // told already: the entries of images themselves are damaged
		return nil
	}
	return err
}

// picture tells what is wrong with a picture; empty when nothing is.
func picture(folder *pictures.Folder, root *os.Root, file, sha256 string) string {
	name := filepath.FromSlash(strings.TrimPrefix(file, sqlite.Pictures+"/"))
	if root == nil {
		return "is not there"
	}
	if h, err := pictures.ParseHash(strings.ToLower(sha256)); err == nil {
		if damage, err := folder.Verify(h); err == nil && !damage.Original {
			return ""
		}
	}
	if name == "" {
		return "its bytes are gone, or are not those of its hash"
	}
	about, err := root.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "is not there"
	case err != nil || !about.Mode().IsRegular():
		return "can't be read"
	}
	is, err := hashed(filepath.Join(root.Name(), name))
	switch {
	case err != nil:
		return "can't be read"
	case !strings.EqualFold(is.SHA256, sha256):
		return "is not as it was written"
	}
	return ""
}

// listed holds the files of a backup against its list; a programme has none.
func listed(ctx context.Context, dir string, report *Report) error {
	text, err := os.ReadFile(filepath.Join(dir, listFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("verifying the backup: %w", err)
	}
	add := func(file, how string) {
		report.damage = append(report.damage, history.Damage{What: "file", Label: file, How: how})
	}
	var all list
	if json.Unmarshal(text, &all) != nil {
		add(listFile, "can't be read")
		return nil
	}
	for name, want := range all.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			add(name, "leads out of the backup")
			continue
		}
		is, err := hashed(filepath.Join(dir, filepath.FromSlash(name)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			add(name, "is not there")
		case err != nil:
			add(name, "can't be read")
		case is != want:
			add(name, "is not as it was written")
		}
	}
	return nil
}

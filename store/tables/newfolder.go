package tables

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
)

// NewFolder is a folder in the making: hidden beside its target until Commit gives it
// the name, so that nobody ever sees half of it.
type NewFolder struct {
	Folder
	target   string
	invented bool // it may take the place of an invented programme
}

// ErrNotOurs is a target that exists and holds more than an earlier folder of ours: it is
// not replaced.
var ErrNotOurs = errors.New("the folder holds what no earlier run wrote, so it is not replaced: choose another name")

// mark is the hidden file in which a folder lists its files: only a folder that holds
// nothing else is ever replaced.
const mark = ".earstone-wrote"

// The hidden folders of one target are called .NAME.earstone-new-PID-... while they are
// made and .NAME.earstone-old-PID-... while they are replaced.
const (
	making    = ".earstone-new-"
	replacing = ".earstone-old-"
)

// CreateFolder begins a folder that will stand at target. What a killed process left of
// earlier beginnings is removed; a folder that it was just replacing is put back.
func CreateFolder(target string) (*NewFolder, error) { return create(target, false) }

// CreateInvented is CreateFolder for an invented programme, which may take the place of an
// earlier invented one; no other folder that holds a programme is ever replaced.
func CreateInvented(target string) (*NewFolder, error) { return create(target, true) }

func create(target string, invented bool) (*NewFolder, error) {
	target, err := resolved(target)
	if err != nil {
		return nil, err
	}
	parent := filepath.Dir(target)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return nil, fmt.Errorf("making the folder %s: %w", parent, err)
	}
	if err := tidy(target); err != nil {
		return nil, fmt.Errorf("removing what an earlier run left beside %s: %w", target, err)
	}
	if err := replaceable(target, invented); err != nil {
		return nil, fmt.Errorf("writing %s: %w", target, err)
	}
	for n := 0; ; n++ { // several may be in the making by one process
		hidden := filepath.Join(parent, fmt.Sprintf("%s%d-%d", hiddenName(target, making), os.Getpid(), n))
		err := os.Mkdir(hidden, 0o777)
		if err == nil {
			return &NewFolder{Folder(hidden), target, invented}, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, fmt.Errorf("making a folder beside %s: %w", target, err)
		}
	}
}

// Writable tells before any work is done whether CreateFolder could begin at target: an
// error says why not. It leaves nothing behind.
func Writable(target string) error {
	target, err := resolved(target)
	if err != nil {
		return err
	}
	if err := replaceable(target, false); err != nil {
		return fmt.Errorf("writing %s: %w", target, err)
	}
	parent := filepath.Dir(target)
	for { // the nearest folder that is there
		if _, err := os.Lstat(parent); !errors.Is(err, fs.ErrNotExist) || filepath.Dir(parent) == parent {
			break
		}
		parent = filepath.Dir(parent)
	}
	try, err := os.MkdirTemp(parent, hiddenName(target, making))
	if err != nil {
		return fmt.Errorf("writing %s: %w", target, err)
	}
	return os.Remove(try)
}

// resolved is the whole path of a target. Where a link stands there, what it leads to is
// meant, so that the link stays one.
func resolved(target string) (string, error) {
	whole, err := filepath.Abs(target)
	if err != nil {
		return "", fmt.Errorf("finding the folder %s: %w", target, err)
	}
	if _, err := os.Lstat(whole); errors.Is(err, fs.ErrNotExist) {
		return whole, nil
	}
	followed, err := filepath.EvalSymlinks(whole)
	if err != nil {
		return "", fmt.Errorf("following the link %s: %w", target, err)
	}
	return followed, nil
}

func hiddenName(target, what string) string { return "." + filepath.Base(target) + what }

// replaceable tells whether the target is free, empty, or an earlier folder of ours that
// holds nothing else. The error names the first stranger.
func replaceable(target string, invented bool) error {
	held, err := files(target)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(filepath.Join(target, mark))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	ours := strings.Split(string(text), "\n")
	for _, name := range held {
		programme := name == "programme.json" && !invented
		if programme || name != mark && !slices.Contains(ours, name) && !slices.Contains(ofTheSystem, filepath.Base(name)) {
			return fmt.Errorf("%w (it holds %s)", ErrNotOurs, name)
		}
	}
	return nil
}

// ofTheSystem are files that desktops lay into any folder that is looked at.
var ofTheSystem = []string{".DS_Store", "Thumbs.db", "desktop.ini"}

// files are the plain files of a folder and of those below it, and its empty folders, by
// their paths; none where the folder is not there.
func files(folder string) (all []string, err error) {
	about, err := os.Stat(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil && !about.IsDir() {
		return nil, errors.New("a file of this name stands there: choose another name")
	}
	err = filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || path == folder {
			return err
		}
		name, err := filepath.Rel(folder, path)
		if below, readErr := os.ReadDir(path); entry.IsDir() && readErr == nil && len(below) > 0 {
			return err
		}
		all = append(all, filepath.ToSlash(name))
		return err
	})
	return all, err
}

// Commit gives the folder its name. An earlier result is put aside first and removed
// afterwards; on an error it stands as it was.
func (n *NewFolder) Commit() error {
	if err := n.commit(); err != nil {
		return errors.Join(fmt.Errorf("giving %s its name: %w", n.target, err), n.Discard())
	}
	return nil
}

func (n *NewFolder) commit() error {
	held, err := files(string(n.Folder))
	if err != nil {
		return err
	}
	if err := n.WriteFile(mark, []byte(strings.Join(held, "\n")+"\n")); err != nil {
		return err
	}
	if err := n.sync(); err != nil {
		return err
	}
	if err := replaceable(n.target, n.invented); err != nil { // it may have come up meanwhile
		return err
	}
	parent := filepath.Dir(n.target)
	aside := ""
	if _, err := os.Stat(n.target); err == nil {
		aside = filepath.Join(parent, hiddenName(n.target, replacing)+strings.TrimPrefix(filepath.Base(string(n.Folder)), hiddenName(n.target, making)))
		if err := os.Rename(n.target, aside); err != nil {
			return err
		}
	}
	if err := os.Rename(string(n.Folder), n.target); err != nil {
		if aside != "" {
			err = errors.Join(err, os.Rename(aside, n.target))
		}
		return err
	}
	hidden := string(n.Folder)
	n.Folder = ""
	if err := Folder(parent).sync(); err != nil {
		return err
	}
	if aside == "" {
		return nil
	}
	// Under the name of a beginning: killed amid the removal, what is left must never be
	// taken for a result that was put aside.
	if err := os.Rename(aside, hidden); err != nil {
		return err
	}
	return os.RemoveAll(hidden)
}

// Discard removes the folder in the making; after Commit it does nothing.
func (n *NewFolder) Discard() error {
	if n.Folder == "" {
		return nil
	}
	err := os.RemoveAll(string(n.Folder))
	n.Folder = ""
	return err
}

// tidy removes hidden folders of the target whose process is gone.
func tidy(target string) error {
	parent := filepath.Dir(target)
	entries, err := os.ReadDir(parent)
	if err != nil {
		return err
	}
	var all []error
	for _, entry := range entries {
		name := entry.Name()
		old := strings.HasPrefix(name, hiddenName(target, replacing))
		if !entry.IsDir() || !old && !strings.HasPrefix(name, hiddenName(target, making)) || alive(name) {
			continue
		}
		left := filepath.Join(parent, name)
		if _, err := os.Stat(target); old && errors.Is(err, fs.ErrNotExist) {
			all = append(all, os.Rename(left, target)) // killed between the two renames
			continue
		}
		all = append(all, os.RemoveAll(left))
	}
	return errors.Join(all...)
}

// alive tells whether the process that a hidden folder names still runs.
func alive(hidden string) bool {
	parts := strings.Split(hidden, "-")
	pid, err := strconv.Atoi(parts[max(0, len(parts)-2)])
	if err != nil {
		return true // not a name that we gave: leave it
	}
	process, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	defer process.Release()
	if runtime.GOOS == "windows" { // there only a running process is found
		return true
	}
	err = process.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, fs.ErrPermission)
}

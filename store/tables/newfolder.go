package tables

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
)

// NewFolder is a folder in the making: hidden beside its target until Commit gives it
// the name, so that nobody ever sees half of it.
type NewFolder struct {
	Folder
	target string
}

// ErrNotOurs is a target that exists and holds no run.json: it is not replaced.
var ErrNotOurs = errors.New("the folder exists and holds no run.json, so it is not replaced: choose another name")

// The hidden folders of one target are called .NAME.earstone-new-PID-... while they are
// made and .NAME.earstone-old-PID-... while they are replaced.
const (
	making    = ".earstone-new-"
	replacing = ".earstone-old-"
)

// CreateFolder begins a folder that will stand at target. What a killed process left of
// earlier beginnings is removed; a folder that it was just replacing is put back.
func CreateFolder(target string) (*NewFolder, error) {
	target, err := filepath.Abs(target)
	if err != nil {
		return nil, fmt.Errorf("finding the folder %s: %w", target, err)
	}
	parent := filepath.Dir(target)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return nil, fmt.Errorf("making the folder %s: %w", parent, err)
	}
	if err := tidy(target); err != nil {
		return nil, fmt.Errorf("removing what an earlier run left beside %s: %w", target, err)
	}
	if err := replaceable(target); err != nil {
		return nil, fmt.Errorf("writing %s: %w", target, err)
	}
	for n := 0; ; n++ { // several may be in the making by one process
		hidden := filepath.Join(parent, fmt.Sprintf("%s%d-%d", hiddenName(target, making), os.Getpid(), n))
		err := os.Mkdir(hidden, 0o777)
		if err == nil {
			return &NewFolder{Folder(hidden), target}, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, fmt.Errorf("making a folder beside %s: %w", target, err)
		}
	}
}

func hiddenName(target, what string) string { return "." + filepath.Base(target) + what }

// replaceable tells whether the target is free, empty, or an earlier result.
func replaceable(target string) error {
	entries, err := os.ReadDir(target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case len(entries) == 0:
		return nil
	}
	if _, err := os.Stat(filepath.Join(target, "run.json")); err != nil {
		return ErrNotOurs
	}
	return nil
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
	if err := n.sync(); err != nil {
		return err
	}
	if err := replaceable(n.target); err != nil { // it may have come up meanwhile
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

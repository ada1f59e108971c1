package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// shelf keeps the seasons of a rehearsal in a folder, a small file each: its settings, and
// what the season gave. A file is there whole or not at all, so that a rehearsal may be
// killed at any time; what is there is not done again.
type shelf struct {
	dir      string
	settings shelfSettings
}

// shelfSettings are all that what a season gave depends on, beside its seed. The number of
// seasons is none of them: more may be asked for later.
type shelfSettings struct {
	EngineVersion string   `json:"engine_version"`
	Architecture  string   `json:"architecture"`
	Size          string   `json:"size"`
	Replicates    int      `json:"replicates"`
	Forms         []string `json:"forms"`
	Beside        []string `json:"beside"`
	FewTrips      int      `json:"few_trips"`
}

// keptFile is one season.
type keptFile struct {
	Settings shelfSettings   `json:"settings"`
	Seed     uint64          `json:"seed"`
	Season   json.RawMessage `json:"season"`
}

// shelf is the one of --keep.
func (in *rehearseTakes) shelf() (*shelf, error) {
	if err := os.MkdirAll(in.Keep, 0o755); err != nil {
		return nil, fmt.Errorf("keeping seasons: %w", err)
	}
	return &shelf{in.Keep, shelfSettings{version, runtime.GOARCH, in.Size, in.Replicates, in.Forms, in.Beside, fewestTrips}}, nil
}

func (s *shelf) path(seed uint64) string {
	return filepath.Join(s.dir, fmt.Sprintf("season-%d.json", seed))
}

// Kept reads a season; one of other settings is not taken and not overwritten.
func (s *shelf) Kept(seed uint64) (state []byte, ok bool, err error) {
	text, err := os.ReadFile(s.path(seed))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("reading a kept season: %w", err)
	}
	var file keptFile
	if err := json.Unmarshal(text, &file); err != nil {
		return nil, false, fmt.Errorf("%s is no kept season (%w): delete it, or choose another folder for --keep", s.path(seed), err)
	}
	was, _ := json.Marshal(file.Settings) // of strings and numbers: it can be written
	is, _ := json.Marshal(s.settings)
	if file.Seed != seed || string(was) != string(is) {
		return nil, false, fmt.Errorf("%s is of a rehearsal with other settings: choose another folder for --keep", s.path(seed))
	}
	return file.Season, true, nil
}

// Keep writes a season.
func (s *shelf) Keep(seed uint64, state []byte) error {
	text, err := json.Marshal(keptFile{s.settings, seed, state})
	if err != nil {
		return fmt.Errorf("keeping a season: %w", err)
	}
	return replace(s.path(seed), append(text, '\n'))
}

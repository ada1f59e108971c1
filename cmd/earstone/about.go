package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"runtime"
	"time"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/store/tables"
)

// about is run.json: all that it takes to do a run again, and how it went.
type about struct {
	Run           string          `json:"run"` // stands in every row of the tables
	EngineVersion string          `json:"engine_version"`
	Architecture  string          `json:"architecture"`
	Promise       string          `json:"promise"`
	Inputs        []inputObject   `json:"inputs"`
	Settings      json.RawMessage `json:"settings"`
	Parts         []run.Part      `json:"parts"`
	Key           string          `json:"key"` // the form that --key asked for; empty: the programme's
	Keys          []keyObject     `json:"keys"`
	Seed          uint64          `json:"seed"`
	Replicates    int             `json:"replicates"`
	Level         float64         `json:"level"`
	Given         run.Given       `json:"given"` // what advice.csv takes for granted; 0: not given
	Workers       int             `json:"workers"`
	Begun         string          `json:"begun"`
	Stages        []stageObject   `json:"stages"`
	Warnings      []string        `json:"warnings"`
}

type inputObject struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Rows   int    `json:"rows"`
	Bytes  int64  `json:"bytes"`
}

// keyObject is the form of key that a species has.
type keyObject struct {
	Species   string `json:"species"`
	Form      string `json:"form"`
	InsteadOf string `json:"instead_of,omitempty"` // the form that could not be had
}

type stageObject struct {
	Stage   string  `json:"stage"`
	Seconds float64 `json:"seconds"`
}

const promise = "The same inputs, settings, engine version, seed and replicates give the same tables to the last bit " +
	"for any number of workers on one architecture; on another architecture they agree to 1e-12 relative."

// about tells what was run; the stages are added when all is done.
func (r *results) about() (*about, error) {
	o := r.outcome.Options
	settings, err := tables.SettingsJSON(r.outcome.Settings)
	if err != nil {
		return nil, err
	}
	a := &about{
		EngineVersion: version, Architecture: runtime.GOARCH, Promise: promise, Settings: settings,
		Parts: o.Only, Key: o.Key, Seed: o.Seed, Replicates: o.Replicates, Level: o.Level, Given: o.Given, Workers: o.Workers,
		Begun: r.begun.UTC().Format(time.RFC3339), Keys: []keyObject{}, Warnings: []string{},
	}
	if a.Parts == nil {
		a.Parts = run.Parts()
	}
	if a.Workers == 0 {
		a.Workers = runtime.GOMAXPROCS(0)
	}
	for _, in := range r.inputs {
		a.Inputs = append(a.Inputs, inputObject{in.Name, in.SHA256, in.Rows, in.Bytes})
	}
	for _, f := range gravestFirst(r.found) {
		if f.Severity >= finding.Warning {
			a.Warnings = append(a.Warnings, words.Line(f))
		}
	}
	for _, s := range r.outcome.Species {
		if s.Key != nil {
			a.Keys = append(a.Keys, keyObject{string(s.Species), s.Key.Form, s.Key.InPlace})
		}
		a.Warnings = append(a.Warnings, restsOn(r.outcome, s)...)
	}
	a.Run, err = a.name()
	return a, err
}

// name is the run's own: a hash of all that its tables depend on.
func (a *about) name() (string, error) {
	text, err := json.Marshal(struct {
		Version      string
		Architecture string
		Inputs       []inputObject
		Settings     json.RawMessage
		Parts        []run.Part
		Key          string
		Seed         uint64
		Replicates   int
		Level        float64
		Given        run.Given
	}{a.EngineVersion, a.Architecture, a.Inputs, a.Settings, a.Parts, a.Key, a.Seed, a.Replicates, a.Level, a.Given})
	if err != nil {
		return "", fmt.Errorf("naming the run: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:6]), nil
}

func (a *about) write(to tables.Folder) error {
	text, err := json.MarshalIndent(a, "", "  ")
	if err != nil {
		return fmt.Errorf("writing run.json: %w", err)
	}
	return to.WriteFile("run.json", append(text, '\n'))
}

// stages are the parts of the work with the seconds they took; what the run did not
// time itself is reading before it and writing after it.
func (r *results) stages(now time.Time) []stageObject {
	stages := []stageObject{{"reading", r.reading.Seconds()}}
	gone := r.reading.Seconds()
	for _, s := range r.outcome.Stages {
		stages = append(stages, stageObject{s.Name, s.Seconds})
		gone += s.Seconds
	}
	return append(stages, stageObject{"writing", now.Sub(r.begun).Seconds() - gone})
}

package main

import (
	"context"
	"encoding/json"
	"path/filepath"

	"earstone/pages/report"
	"earstone/pages/words"
	"earstone/plan/fishery"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/store/tables"
)

// demoTakes are the arguments of demo.
type demoTakes struct {
	Dir  string `help:"Folder for the invented programme and its results." default:"demo" placeholder:"DIR"`
	Size string `help:"Size of the invented programme: small, season or decade." enum:"small,season,decade" default:"season"`
	chosen
	JSON bool `help:"Print one JSON object a line, and no progress."`
}

// lastYear is the last year of an invented programme: any in the past, lest its dates be
// found to lie in the future.
const lastYear = 2025

func demo() command {
	var in demoTakes
	return command{
		name:    "demo",
		does:    "Invent a programme, do the whole job on it, and show the estimates beside the known truth.",
		example: "earstone demo --size small --dir demo",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.demo(ctx, to) },
	}
}

func (in *demoTakes) demo(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	options, err := in.options(nil)
	if err != nil {
		return wrongUse, err
	}
	settings, err := fishery.Sized(in.Size)
	if err != nil {
		return wrongUse, err
	}
	settings.FirstYear = lastYear - settings.Years + 1
	to.begin("inventing a " + in.Size)
	season := fishery.Invent(settings, in.Seed)
	book, err := season.Book()
	if err != nil {
		return failed, err
	}
	src := filepath.Join(in.Dir, "programme")
	if err := in.write(ctx, src, book, season.Lengths); err != nil {
		return failed, err
	}
	if !to.json {
		to.say("An invented programme lies in %s: %s trips, %s measured and %s aged fish.", src,
			words.Count(settings.Trips), words.Count(settings.Lengths), words.Count(settings.Aged))
	}
	known := season.Truth()
	job := job{src: src, out: filepath.Join(in.Dir, "results"), options: options,
		truth: knownCatch(book.Settings.Species, settings, known), invented: knownOrigins(settings, known)}
	return job.do(ctx, to)
}

// write writes the invented programme as tables. Its run.json tells where it came from,
// and lets the next demo replace it.
func (in *demoTakes) write(ctx context.Context, src string, book *record.Book, lengths func(func(*record.LengthCount) error) error) error {
	folder, err := tables.CreateInvented(src)
	if err != nil {
		return err
	}
	defer folder.Discard() // after Commit it does nothing
	err = tables.WriteProgramme(string(folder.Folder), book, func(yield func(*record.LengthCount) error) error {
		return lengths(func(row *record.LengthCount) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return yield(row)
		})
	})
	if err != nil {
		return err
	}
	origin, err := json.MarshalIndent(struct {
		Invented      bool   `json:"invented"`
		EngineVersion string `json:"engine_version"`
		Size          string `json:"size"`
		Seed          uint64 `json:"seed"`
	}{true, version, in.Size, in.Seed}, "", "  ")
	if err != nil {
		return err
	}
	if err := folder.WriteFile("run.json", append(origin, '\n')); err != nil {
		return err
	}
	return folder.Commit()
}

// knownCatch is the truth of the invented fishery.
func knownCatch(of []record.Species, s fishery.Settings, t *fishery.Truth) report.Truth {
	known := report.Truth{}
	for _, species := range of {
		known[species] = map[int][]float64{}
		for year := s.FirstYear; year < s.FirstYear+s.Years; year++ {
			known[species][year] = t.Total(func(cell strata.Cell) bool { return int(cell.Year) == year })
		}
	}
	return known
}

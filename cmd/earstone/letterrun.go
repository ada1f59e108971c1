package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"earstone/pages/letter"
	"earstone/programme/record"
	"earstone/store/tables"
)

// readRun reads what a run found of single fish and of the whole catch, from the folder
// that estimate wrote; dir is what it is called. Without origins there are none; without ages there was no run.
func readRun(folder fs.FS, dir string) (run letter.Run, err error) {
	err = eachRow(folder, dir, "ages.csv", []string{"fish", "species", "annuli", "age", "cohort", "n_readings", "flags"}, func(r resultRow) {
		run.Ages = append(run.Ages, letter.Age{Fish: record.FishID(r.text("fish")), Species: record.Species(r.text("species")),
			Annuli: r.number("annuli"), Age: r.number("age"), Cohort: r.whole("cohort"), Readings: r.whole("n_readings"),
			Flags: strings.FieldsFunc(r.text("flags"), func(sign rune) bool { return sign == ';' })})
	})
	if errors.Is(err, fs.ErrNotExist) {
		return run, fmt.Errorf("%s holds no ages.csv: letters tell what a run found, so run earstone estimate first", dir)
	}
	if err != nil {
		return run, err
	}
	for _, a := range run.Ages {
		if a.Age.Known && !(a.Age.X >= 0 && a.Age.X <= oldestFish) {
			return run, fmt.Errorf("%s/ages.csv gives %s an age of %g years: the table is damaged; estimate again", dir, a.Fish, a.Age.X)
		}
	}
	err = eachRow(folder, dir, "origin.csv", []string{"fish", "nursery", "value", "call"}, func(r resultRow) {
		run.Origins = append(run.Origins, letter.Posterior{Fish: record.FishID(r.text("fish")), Nursery: r.text("nursery"), Value: r.number("value"), Call: r.text("call")})
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return run, err
	}
	whole := []string{"quarter", "area", "age"}
	err = eachRow(folder, dir, "composition.csv", append([]string{"species", "year", "nursery", "method", "value", "low", "high"}, whole...), func(r resultRow) {
		for _, column := range whole {
			if r.text(column) != "" {
				return
			}
		}
		run.Shares = append(run.Shares, letter.Share{Species: record.Species(r.text("species")), Year: r.whole("year"), Nursery: r.text("nursery"),
			Method: r.text("method"), Value: r.number("value"), Low: r.number("low"), High: r.number("high")})
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return run, err
	}
	return run, nil
}

// oldestFish is more than any fish has lived that ages are read of.
const oldestFish = 200

// resultRow is one row of a result table. The first cell that is no number is kept as
// the trouble of the table.
type resultRow struct {
	cells   []string
	at      map[string]int
	trouble *error
}

func (r resultRow) text(column string) string { return r.cells[r.at[column]] }

func (r resultRow) number(column string) record.Number {
	text := r.text(column)
	if text == "" {
		return record.Number{}
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil && *r.trouble == nil {
		*r.trouble = fmt.Errorf("column %s: %q is no number", column, text)
	}
	return record.Some(x)
}

// whole is a whole number, 0 when unknown.
func (r resultRow) whole(column string) int { return int(r.number(column).X) }

// eachRow hands over the rows of a result table that has the columns.
func eachRow(folder fs.FS, dir, name string, columns []string, each func(resultRow)) error {
	path := filepath.Join(dir, name)
	file, err := folder.Open(name)
	if err != nil {
		return fmt.Errorf("reading %s: %w", path, err)
	}
	defer file.Close() // it is only read
	at, row := map[string]int{}, 1
	err = tables.EachResult(file, func(head, cells []string) error {
		if row++; row == 2 {
			for i, column := range head {
				at[column] = i
			}
			for _, column := range columns {
				if _, there := at[column]; !there {
					return fmt.Errorf("there is no column %s: it is not a table of earstone estimate, or of another version; estimate again", column)
				}
			}
		}
		var trouble error
		each(resultRow{cells, at, &trouble})
		if trouble != nil {
			return fmt.Errorf("row %d, %w; estimate again", row, trouble)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s, %w", path, err)
	}
	return nil
}

// readAddresses reads names and addresses by contributor. The list is not kept anywhere:
// it is used for the letters of this one command.
func readAddresses(path string) (map[string]letter.To, error) {
	all := map[string]letter.To{}
	if path == "" {
		return all, nil
	}
	err := eachRow(os.DirFS(filepath.Dir(path)), filepath.Dir(path), filepath.Base(path), []string{"contributor", "name", "address"}, func(r resultRow) {
		to := letter.To{Name: strings.TrimSpace(r.text("name"))}
		for line := range strings.SplitSeq(strings.ReplaceAll(r.text("address"), "\n", "/"), "/") {
			if line = strings.TrimSpace(line); line != "" {
				to.Lines = append(to.Lines, line)
			}
		}
		all[r.text("contributor")] = to
	})
	return all, err
}

// Package species holds published facts of tunas by species code, each with its source.
//
// The facts are those of species.csv that were read in their source and are printed to
// three digits or more; where two publications differ, both stand here and whoever uses
// one chooses it.
package species

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"earstone/programme/date"
	"earstone/programme/record"
)

//go:embed species.csv
var table string

// Facts is what is published of one species.
type Facts struct {
	Code           record.Species
	ScientificName string
	EnglishName    string
	MaximumLength  []Value // cm to the fork
	MaximumWeight  []Value // kg
	MaximumAge     []Value // years
	FirstAnnulus   []Value // age in years at which the first annulus forms
	Condition      []Range // Fulton's K = 100 000 W/L³ (kg, cm) of credible records
	Seasons        []Season
	Conversions    []record.Conversion
}

// Value is one published figure.
type Value struct {
	X            float64
	Region       string
	Source, Note string
}

// Range is one published range.
type Range struct {
	Low, High    float64
	Source, Note string
}

// Season is a part of the year in which something happens: an annulus forms, fish spawn.
// It may run over the new year.
type Season struct {
	What         string // annulus, spawning
	First, Last  date.Anniversary
	Region       string
	Source, Note string
}

// Of is what is published of a species; ok is false for a code that is not known here.
// What it holds is shared and not to be changed.
func Of(code record.Species) (facts Facts, ok bool) {
	all := parsed()
	at := slices.IndexFunc(all, func(f Facts) bool { return f.Code == code })
	if at < 0 {
		return Facts{}, false
	}
	return all[at], true
}

// Codes are the species that are known here, in the order of the table.
func Codes() []record.Species {
	var codes []record.Species
	for _, f := range parsed() {
		codes = append(codes, f.Code)
	}
	return codes
}

// Conversions are the published equations of several species.
func Conversions(codes []record.Species) []record.Conversion {
	var all []record.Conversion
	for _, code := range codes {
		if facts, ok := Of(code); ok {
			all = append(all, facts.Conversions...)
		}
	}
	return all
}

var parsed = sync.OnceValue(func() []Facts {
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		panic("species: " + err.Error())
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var all []Facts
	for n, cells := range rows[1:] {
		r := row{n + 2, func(name string) string { return cells[column[name]] }}
		at := slices.IndexFunc(all, func(f Facts) bool { return string(f.Code) == r.of("species") })
		if at < 0 {
			at = len(all)
			all = append(all, Facts{Code: record.Species(r.of("species")), ScientificName: r.of("scientific_name"), EnglishName: r.of("english_name")})
		}
		r.into(&all[at])
	}
	return all
})

// row is one row of the table.
type row struct {
	number int
	of     func(column string) string
}

func (r row) into(f *Facts) {
	value := Value{r.figure("a").X, r.of("region"), r.of("source"), r.of("note")}
	switch r.of("record") + " " + r.of("quantity") {
	case "code ":
	case "maximum length":
		f.MaximumLength = append(f.MaximumLength, value)
	case "maximum weight":
		f.MaximumWeight = append(f.MaximumWeight, value)
	case "maximum age":
		f.MaximumAge = append(f.MaximumAge, value)
	case "calendar first_annulus_age":
		f.FirstAnnulus = append(f.FirstAnnulus, value)
	case "plausible fulton_k":
		f.Condition = append(f.Condition, Range{r.figure("low").X, r.figure("high").X, r.of("source"), r.of("note")})
	case "calendar annulus", "calendar spawning":
		f.Seasons = append(f.Seasons, Season{r.of("quantity"), r.day("low"), r.day("high"), r.of("region"), r.of("source"), r.of("note")})
	case "conversion length", "conversion weight":
		f.Conversions = append(f.Conversions, r.conversion())
	default:
		panic(fmt.Sprintf("species: row %d holds %s %s, which nobody knows", r.number, r.of("record"), r.of("quantity")))
	}
}

func (r row) conversion() record.Conversion {
	return record.Conversion{Species: record.Species(r.of("species")), Quantity: r.of("quantity"), From: r.of("from"), To: r.of("to"),
		Form: r.of("form"), A: r.figure("a").X, B: r.figure("b").X, SD: r.figure("sd"), Low: r.figure("low"), High: r.figure("high"),
		Unit: r.of("unit"), Source: r.of("source"), Status: r.of("status")}
}

// figure is the number in a column, unknown where it is empty.
func (r row) figure(column string) record.Number {
	if r.of(column) == "" || r.of("record") == "calendar" && column != "a" {
		return record.Number{}
	}
	x, err := strconv.ParseFloat(r.of(column), 64)
	if err != nil {
		panic(fmt.Sprintf("species: row %d, %s: %v", r.number, column, err))
	}
	return record.Some(x)
}

func (r row) day(column string) date.Anniversary {
	day, ok := date.ParseAnniversary(r.of(column))
	if !ok || !day.Known() {
		panic(fmt.Sprintf("species: row %d, %s: %q is no day of the year", r.number, column, r.of(column)))
	}
	return day
}

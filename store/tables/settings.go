package tables

import (
	"fmt"
	"strings"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// The words that settings are chosen from.
var (
	settingKeys = []string{"name", "species", "age_convention", "calendars", "length_bin", "strata", "ladders",
		"key", "plus_group", "agreed_age", "readers", "targets", "resample"}
	conventions   = []string{"january", "birthday"}
	stratumNames  = []string{"year", "quarter", "month", "area", "gear"}
	keyForms      = []string{"direct", "smoothed", "iterated", "combined"}
	agreedRules   = []string{"median", "expert", "mode"}
	tieRules      = []string{"reread", "lower_reader"}
	calendarKeys  = []string{"birth_day", "annulus_day", "annulus_window_days", "first_annulus_age"}
	lengthBinKeys = []string{"width", "unit", "kind"}
	ladderKeys    = []string{"lengths", "key"}
	keyKeys       = []string{"form", "least_fish", "ageing_error", "edge_bins"}
	agreedKeys    = []string{"rule", "expert", "tie"}
	targetKeys    = []string{"quantity", "ages", "want_cv"}
	resampleKeys  = []string{"fish"}
)

// settingsFile holds the settings.
const settingsFile = "programme.json"

// settings reads programme.json, or the sheet of a workbook that stands for it.
func (t *Tables) settings() (record.Settings, error) {
	text, p, err := t.settingsText()
	if err != nil {
		return record.Settings{}, err
	}
	if text == nil {
		if !t.refused(p.file) && !t.refused(t.only) {
			t.found.Keep(finding.Finding{Kind: finding.MissingTable, Severity: finding.Error,
				Place: finding.Place{File: p.file}, Facts: []string{"programme"}})
		}
		s := record.Defaults()
		s.Strata = nil // nobody knows what they are: no record is held against them
		return s, nil
	}
	return readSettings(p, text), nil
}

// settingsText is the JSON of the settings, nil when there are none, and its page.
func (t *Tables) settingsText() (text []byte, p *page, err error) {
	const name = settingsFile
	if t.only == "" && (t.single == "" || t.single == name) {
		if text, err = t.small(name); err != nil {
			return nil, nil, fmt.Errorf("reading %s: %w", name, err)
		}
	}
	p = newPage(name, &t.found, nil)
	for _, w := range t.books {
		for _, sheet := range w.file.GetSheetList() {
			if text == nil && strings.EqualFold(sheet, settingsSheet) {
				p.file = place{path: w.path, sheet: sheet}.label()
				if text, err = w.settingsText(p, sheet); err != nil {
					return nil, nil, fmt.Errorf("reading the settings in %s: %w", p.file, err)
				}
			}
		}
	}
	return text, p, nil
}

// refused tells whether a file was found unreadable, so that it is not called missing.
func (t *Tables) refused(name string) bool {
	for _, f := range t.found.All() {
		if f.Place.File == name && f.Severity == finding.Error {
			return true
		}
	}
	return false
}

// readSettings reads settings over the defaults; a value that was refused leaves its
// default, and the finding is an error.
func readSettings(p *page, text []byte) record.Settings {
	s := record.Defaults()
	root := parseJSON(p, text)
	if root == nil || !root.is(p, isObject, "object") {
		s.Strata = nil // as in settings
		return s
	}
	root.each(p, settingKeys, func(key string, n *node) { readSetting(p, &s, key, n) })
	for _, key := range []string{"name", "species"} {
		if root.values[key] == nil {
			p.row, p.column = 1, key
			p.add(finding.Needed, nil)
		}
	}
	agree(p, root, &s)
	return s
}

func readSetting(p *page, s *record.Settings, key string, n *node) {
	switch key {
	case "name":
		n.asText(p, &s.Name)
	case "species":
		s.Species = readSpecies(p, n)
	case "age_convention":
		n.asWord(p, conventions, &s.AgeConvention)
	case "calendars":
		readCalendars(p, n, s.Calendars)
	case "length_bin":
		readLengthBin(p, n, &s.LengthBin)
	case "strata":
		if s.Strata = readColumns(p, n); n.kind == isList && !within("year", s.Strata) {
			n.wrong(p, finding.BadSetting, "with_year")
		}
	case "ladders":
		n.each(p, ladderKeys, func(key string, n *node) {
			to := &s.Ladders.Lengths
			if key == "key" {
				to = &s.Ladders.Key
			}
			if *to = readLadder(p, n); key == "key" && n.kind == isList && len(n.items) == 0 {
				n.wrong(p, finding.BadSetting, "one_set")
			}
		})
	case "key":
		readKey(p, n, &s.Key)
	case "plus_group":
		n.asWhole(p, 0, mostAnnuli, &s.PlusGroup)
	case "agreed_age":
		readAgreedAge(p, n, &s.AgreedAge)
	case "readers":
		s.Readers = readReaders(p, n)
	case "targets":
		s.Targets = readTargets(p, n)
	case "resample":
		n.each(p, resampleKeys, func(_ string, n *node) { n.asTruth(p, &s.Resample.Fish) })
	}
}

func readSpecies(p *page, n *node) (all []record.Species) {
	if !n.is(p, isList, "list") {
		return nil
	}
	if len(n.items) == 0 {
		n.wrong(p, finding.Needed)
	}
	seen := map[string]bool{}
	for _, item := range n.items {
		switch {
		case item.kind != isText || !isSpeciesCode(item.text):
			item.wrong(p, finding.BadSetting, "species_code")
		case seen[item.text]:
			item.wrong(p, finding.BadSetting, "once")
		default:
			seen[item.text] = true
			all = append(all, record.Species(item.text))
		}
	}
	return all
}

func isSpeciesCode(text string) bool {
	return len(text) == 3 && strings.Trim(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") == ""
}

func readCalendars(p *page, n *node, to map[record.Species]record.Calendar) {
	if !n.is(p, isObject, "object") {
		return
	}
	for _, species := range n.keys {
		var c record.Calendar
		n.values[species].each(p, calendarKeys, func(key string, n *node) {
			switch key {
			case "birth_day":
				n.asAnniversary(p, &c.BirthDay)
			case "annulus_day":
				n.asAnniversary(p, &c.AnnulusDay)
			case "annulus_window_days":
				n.asWhole(p, 0, 182, &c.AnnulusWindowDays)
			case "first_annulus_age":
				n.asNumber(p, 0, mostAnnuli, &c.FirstAnnulusAge)
			}
		})
		for _, key := range calendarKeys {
			if at := n.values[species]; at.kind == isObject && at.values[key] == nil {
				p.row, p.column = at.row, below(at.path, key)
				p.add(finding.Needed, nil)
			}
		}
		to[record.Species(species)] = c
	}
}

// perCm is how many of a unit are a centimetre.
var perCm = map[string]float64{"mm": 10, "cm": 1, "in": 1 / 2.54}

// readLengthBin reads the grid of lengths, whose bins are 0.1 to 100 cm wide: narrower
// ones would not reach the largest fish.
func readLengthBin(p *page, n *node, to *record.LengthBin) {
	n.each(p, lengthBinKeys, func(key string, n *node) {
		switch key {
		case "width":
			n.asNumber(p, above, mostSize, &to.Width)
		case "unit":
			n.asWord(p, lengthUnits, &to.Unit)
		case "kind":
			kind := ""
			if n.asWord(p, record.LengthKindWords(), &kind); kind != "" {
				to.Kind, _ = record.ParseLengthKind(kind)
			}
		}
	})
	if cm := to.Width / perCm[to.Unit]; cm < 0.1 || cm > 100 {
		n.values["width"].wrong(p, finding.OutOfRange, bound(0.1*perCm[to.Unit]), bound(100*perCm[to.Unit]))
	}
}

// readColumns reads a set of columns that define a stratum.
func readColumns(p *page, n *node) []string {
	columns := []string{}
	if !n.is(p, isList, "list") {
		return columns
	}
	for _, item := range n.items {
		column := ""
		item.asWord(p, stratumNames, &column)
		switch {
		case column == "":
		case within(column, columns):
			item.wrong(p, finding.BadSetting, "once")
		default:
			columns = append(columns, column)
		}
	}
	return columns
}

func readLadder(p *page, n *node) [][]string {
	rungs := [][]string{}
	if !n.is(p, isList, "list") {
		return rungs
	}
	for _, item := range n.items {
		rungs = append(rungs, readColumns(p, item))
	}
	return rungs
}

func readKey(p *page, n *node, to *record.KeySettings) {
	n.each(p, keyKeys, func(key string, n *node) {
		switch key {
		case "form":
			n.asWord(p, keyForms, &to.Form)
		case "least_fish":
			n.asWhole(p, 1, 1000000, &to.LeastFish)
		case "ageing_error":
			n.asTruth(p, &to.AgeingError)
		case "edge_bins":
			n.asTruth(p, &to.EdgeBins)
		}
	})
}

func readAgreedAge(p *page, n *node, to *record.AgreedAge) {
	n.each(p, agreedKeys, func(key string, n *node) {
		switch key {
		case "rule":
			n.asWord(p, agreedRules, &to.Rule)
		case "expert":
			n.asText(p, (*string)(&to.Expert))
		case "tie":
			n.asWord(p, tieRules, &to.Tie)
		}
	})
}

func readReaders(p *page, n *node) (all []record.ReaderID) {
	if !n.is(p, isList, "list") {
		return nil
	}
	seen := map[string]bool{}
	for _, item := range n.items {
		reader := ""
		item.asText(p, &reader)
		switch {
		case reader == "":
		case seen[reader]:
			item.wrong(p, finding.BadSetting, "once")
		default:
			seen[reader] = true
			all = append(all, record.ReaderID(reader))
		}
	}
	return all
}

func readTargets(p *page, n *node) (all []record.Target) {
	if !n.is(p, isList, "list") {
		return nil
	}
	for _, item := range n.items {
		var to record.Target
		item.each(p, targetKeys, func(key string, n *node) {
			switch key {
			case "quantity":
				n.asText(p, &to.Quantity)
			case "ages":
				readAges(p, n, &to.Ages)
			case "want_cv":
				n.asNumber(p, above, 10, &to.WantCV)
			}
		})
		all = append(all, to)
	}
	return all
}

func readAges(p *page, n *node, to *[2]int) {
	if n.kind != isList || len(n.items) != 2 {
		n.wrong(p, finding.BadSetting, "two_ages")
		return
	}
	n.items[0].asWhole(p, 0, mostAnnuli, &to[0])
	n.items[1].asWhole(p, 0, mostAnnuli, &to[1])
	if to[0] > to[1] {
		n.wrong(p, finding.BadSetting, "two_ages")
	}
}

// agree holds settings against each other.
func agree(p *page, root *node, s *record.Settings) {
	species := []string{}
	for _, code := range s.Species {
		species = append(species, string(code))
	}
	if at := root.values["calendars"]; at != nil && len(species) > 0 {
		for _, key := range at.keys {
			if !within(key, species) {
				p.row, p.column = at.values[key].row, at.values[key].path
				p.add(finding.UnknownID, []byte(key), "programme.json", finding.Nearest(key, species))
			}
		}
	}
	readers := []string{}
	for _, reader := range s.Readers {
		readers = append(readers, string(reader))
	}
	at := root.values["agreed_age"]
	expert := string(s.AgreedAge.Expert)
	switch {
	case at == nil:
	case s.AgreedAge.Rule == "expert" && expert == "":
		p.row, p.column = at.row, below(at.path, "expert")
		p.add(finding.Needed, nil)
	case expert != "" && len(readers) > 0 && !within(expert, readers):
		p.row, p.column = at.row, below(at.path, "expert")
		p.add(finding.UnknownID, []byte(expert), "programme.json", finding.Nearest(expert, readers))
	}
}

package book

import (
	"slices"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/rules"
	"earstone/store/history"
	"earstone/store/tables"
)

// check holds the programme as it would be against every rule, and gives each finding
// the place of the file that its row comes from.
func (p *planner) check(files []*tables.Tables, today date.Day) error {
	p.tell("checking", 0, 0)
	book := &record.Book{ExtraColumns: map[string][]string{}}
	if err := p.declare(book, files); err != nil {
		return err
	}
	for _, file := range files {
		p.plan.Found.Join(file.Findings())
	}
	fill := tables.NewFiller(book)
	from := map[string][]*fresh{} // of each row of each table, nil where it was there
	for _, name := range tables.Names() {
		if extra := p.extra(name); len(extra) > 0 {
			book.ExtraColumns[name] = extra
		}
		if name != tables.LengthsName {
			from[name+".csv"] = p.shelve(fill, name)
		}
	}
	for _, f := range rules.Check(book, today).All() {
		if placed, told := place(f, from[f.Place.File]); told {
			p.plan.Found.Keep(placed)
		}
	}
	p.checkCounts(book)
	return p.ctx.Err()
}

// declare reads the settings as they would be, and notes them when a file brings others.
func (p *planner) declare(book *record.Book, files []*tables.Tables) error {
	book.Settings = record.Defaults()
	if p.settings != nil {
		book.Settings, _ = tables.Settings([]byte(p.settings.Fields()[settingsField]))
	}
	for _, file := range files {
		text, label, err := file.SettingsText()
		if err != nil {
			return err
		}
		if text == nil {
			continue
		}
		settings, err := file.ReadSettings()
		if err != nil {
			return err
		}
		book.Settings = settings
		e, err := SettingsEntry(settings, p.settings)
		if err != nil {
			return err
		}
		e.Who, e.When, e.Why = p.job.Who, p.job.When, "taken from "+label
		if string(text) != e.Fields[settingsField] {
			e.Raw = history.Fields{settingsField: string(text)}
		}
		change := Change{File: label}
		same := false
		if p.settings != nil {
			if same, err = p.said(p.settings, e.Fields); err != nil {
				return err
			}
		}
		switch {
		case same:
			change.Same = 1
		case p.settings != nil:
			change.Corrected = 1
		default:
			change.New = 1
		}
		p.plan.Changes = slices.Insert(p.plan.Changes, 0, change)
		if !same {
			p.plan.Entries = append(p.plan.Entries, e)
		}
	}
	return nil
}

// shelve fills a table of the book as it would be: what is there with its corrections,
// then what is new.
func (p *planner) shelve(fill *tables.Filler, name string) []*fresh {
	s := p.kept[history.Kind(name)]
	from := make([]*fresh, len(s.records))
	for i := range s.fresh {
		if f := &s.fresh[i]; f.at >= 0 {
			from[f.at] = f
		}
	}
	for i := range s.records {
		if from[i] != nil {
			fill.Add(name, from[i].row.Cells)
		} else {
			fill.Add(name, s.records[i].Fields())
		}
	}
	for i := range s.fresh {
		if f := &s.fresh[i]; f.at < 0 {
			fill.Add(name, f.row.Cells)
			from = append(from, f)
		}
	}
	return from
}

// place gives a finding the file and the row that it comes from. Of rows that were there
// only errors are told, since nothing new is wrong with the others.
func place(f finding.Finding, from []*fresh) (finding.Finding, bool) {
	at := f.Place.Row - 2
	if at < 0 || at >= len(from) {
		return f, true
	}
	if from[at] == nil {
		f.Place.File = "(programme) " + f.Place.File
		return f, f.Severity == finding.Error
	}
	f.Place.File, f.Place.Row = from[at].from.label, from[at].row.Number
	if f.Kind == finding.TwiceID || f.Kind == finding.TwiceRecord {
		f.Facts = slices.Clone(f.Facts)
		if first, err := strconv.Atoi(f.Facts[0]); err == nil && first-2 >= 0 && first-2 < len(from) && from[first-2] != nil {
			f.Facts[0] = strconv.Itoa(from[first-2].row.Number)
		}
	}
	return f, true
}

// checkCounts asks whether the trip and the species of each length count are there.
func (p *planner) checkCounts(book *record.Book) {
	trips, species := map[record.TripID]bool{}, map[record.Species]bool{}
	var tripNames, speciesNames []string
	for i := range book.Trips {
		trips[book.Trips[i].Trip] = true
		tripNames = append(tripNames, string(book.Trips[i].Trip))
	}
	for _, code := range book.Settings.Species {
		species[code] = true
		speciesNames = append(speciesNames, string(code))
	}
	tripNames = tripNames[:min(len(tripNames), 5000)] // among which the nearest is sought
	for _, t := range p.files {
		if t.counts == nil || t.known {
			continue
		}
		for _, trip := range t.counts.trips {
			rows := t.counts.of[trip].rows
			if !trips[trip] {
				p.plan.Found.Add(finding.UnknownID, finding.Place{File: t.label, Row: rows[0].Row, Column: "trip"}, string(trip),
					"trips.csv", finding.Nearest(string(trip), tripNames))
			}
			for i := range rows {
				if code := rows[i].Species; len(species) > 0 && !species[code] {
					p.plan.Found.Add(finding.UnknownID, finding.Place{File: t.label, Row: rows[i].Row, Column: "species"}, string(code),
						"programme.json", finding.Nearest(string(code), speciesNames))
				}
			}
		}
	}
}

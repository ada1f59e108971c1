package rules

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// calendars asks for a calendar of each species that is read, and whether each agrees
// with itself: a1 is a whole number of years plus the time from birth day to annulus day.
func (c *check) calendars() {
	for _, code := range c.book.Settings.Species {
		calendar, there := c.book.Settings.Calendars[code]
		column := "calendars." + string(code)
		switch {
		case !there && len(c.book.Readings) > 0:
			c.add(finding.NoCalendar, programmeFile, 0, column, "", string(code))
		case there && calendar.BirthDay.Known() && calendar.AnnulusDay.Known() && !agrees(calendar):
			c.add(finding.BadCalendar, programmeFile, 0, column+".first_annulus_age", text(calendar.FirstAnnulusAge),
				calendar.BirthDay.String(), calendar.AnnulusDay.String(), strconv.Itoa(calendar.AnnulusWindowDays))
		}
	}
}

func agrees(k record.Calendar) bool {
	const common = 2001 // a year without a leap day, as the anniversaries count it
	days := k.AnnulusDay.In(common).Serial() - k.BirthDay.In(common).Serial()
	if days < 0 {
		days += 365
	}
	years := k.FirstAnnulusAge - float64(days)/365.25
	whole := max(0, math.Round(years))
	return math.Abs(years-whole)*365.25 <= float64(k.AnnulusWindowDays)+1 // the day that a year is short or long
}

// places enters areas and contributors, and asks whether parents are known.
func (c *check) places() {
	for i, a := range c.book.Areas {
		enter(c, c.areas, areasFile, "area", a.Area, a.Row, i)
	}
	for _, a := range c.book.Areas {
		c.area(areasFile, a.Row, "parent", a.Parent)
	}
	for i, p := range c.book.Contributors {
		enter(c, c.contributors, contributorsFile, "contributor", p.Contributor, p.Row, i)
	}
}

// area asks for an area only where the programme lists its areas at all.
func (c *check) area(file string, row int, column, area string) {
	if n := len(c.book.Areas); n > 0 {
		refer(c, c.areas, areasFile, file, row, column, area, func(i int) string { return c.book.Areas[i].Area }, n)
	}
}

func (c *check) contributor(file string, row int, contributor string) {
	if n := len(c.book.Contributors); n > 0 {
		refer(c, c.contributors, contributorsFile, file, row, "contributor", contributor,
			func(i int) string { return c.book.Contributors[i].Contributor }, n)
	}
}

func (c *check) tripTable() {
	for i, t := range c.book.Trips {
		enter(c, c.trips, tripsFile, "trip", t.Trip, t.Row, i)
		c.area(tripsFile, t.Row, "area", t.Area)
		c.contributor(tripsFile, t.Row, t.Contributor)
		c.notFuture(tripsFile, t.Row, "landed_on", t.LandedOn)
		c.notNegative(tripsFile, t.Row, "landed_number", t.LandedNumber)
		c.notNegative(tripsFile, t.Row, "landed_kg", t.LandedKg)
		c.stratum(tripsFile, t.Row, "landed_on", t.LandedOn, t.Area, t.Gear)
	}
}

// stratum asks whether a record tells in which declared stratum it lies.
func (c *check) stratum(file string, row int, dateColumn string, day date.Day, area, gear string) {
	for _, column := range c.book.Settings.Strata {
		switch {
		case column == "area" && area == "", column == "gear" && gear == "":
			c.add(finding.Needed, file, row, column, "")
		case (column == "quarter" || column == "month") && day.Known() && day.Month() == 0:
			c.add(finding.CoarseDate, file, row, dateColumn, day.String(), column)
		}
	}
}

// stratum is what a row of catch is the catch of.
type stratum struct {
	year, quarter, month int
	area, gear           string
	species              record.Species
}

// String tells what is known of a stratum: 2031, quarter 2, Skell, rod, BFT.
func (s stratum) String() string {
	parts := []string{strconv.Itoa(s.year)}
	if s.quarter > 0 {
		parts = append(parts, "quarter "+strconv.Itoa(s.quarter))
	}
	if s.month > 0 {
		parts = append(parts, "month "+strconv.Itoa(s.month))
	}
	for _, part := range []string{s.area, s.gear, string(s.species)} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	return strings.Join(parts, ", ")
}

func (c *check) catchTable() {
	first := map[stratum]int{}
	for _, k := range c.book.Catches {
		c.area(catchFile, k.Row, "area", k.Area)
		c.listed(catchFile, k.Row, k.Species)
		c.notNegative(catchFile, k.Row, "number", k.Number)
		c.notNegative(catchFile, k.Row, "weight_kg", k.WeightKg)
		if !k.Number.Known && !k.WeightKg.Known {
			c.add(finding.Needed, catchFile, k.Row, "number", "")
		}
		if k.Month > 0 && k.Quarter > 0 && (k.Month+2)/3 != k.Quarter {
			c.add(finding.Contradiction, catchFile, k.Row, "quarter", strconv.Itoa(k.Quarter), "month", strconv.Itoa(k.Month))
		}
		c.catchStratum(k)
		c.amount(k)
		at := stratum{k.Year, k.Quarter, k.Month, k.Area, k.Gear, k.Species}
		if row, twice := first[at]; twice {
			c.add(finding.TwiceRecord, catchFile, k.Row, "", at.String(), strconv.Itoa(row))
			continue
		}
		first[at] = k.Row
	}
}

// amount asks whether a catch can be what is written: a CV that looks like per cent, a
// weight that no equation turns into fish.
func (c *check) amount(k record.Catch) {
	if k.CV.Known && k.CV.X > 1 {
		c.add(finding.Implausible, catchFile, k.Row, "cv", text(k.CV.X), "cv", text(k.CV.X/100))
	}
	if k.WeightKg.Known && !k.Number.Known && !c.weighs(k.Species) {
		c.add(finding.WeightOnly, catchFile, k.Row, "weight_kg", text(k.WeightKg.X), "equation", c.book.Settings.LengthBin.Kind.String())
	}
}

// The least and the largest round weight in kg that an equation may give any of the
// lengths in cm at which it is tried.
const leastKg, mostKg = 1e-6, 1e5

// weighs tells whether there is an equation from the kind of the length bins to round
// weight that gives fish the weight of a fish.
func (c *check) weighs(code record.Species) bool {
	for _, cm := range []float64{10, 30, 100, 300} {
		l := record.Length{Value: record.Some(cm), Unit: "cm", Kind: c.book.Settings.LengthBin.Kind}
		if kg, err := c.converter.WeightAt(code, l, record.Round); err == nil && kg.Mean() > leastKg && kg.Mean() < mostKg {
			return true
		}
	}
	return false
}

// landings holds the catch of each stratum against what its sampled trips alone landed,
// where the programme has one species: a landing is of all species together.
func (c *check) landings() {
	if len(c.book.Settings.Species) != 1 {
		return
	}
	set, _ := strata.ParseSet(c.book.Settings.Strata)
	landed := map[strata.Cell]float64{}
	for _, t := range c.book.Trips {
		landed[strata.At(t.LandedOn, t.Area, t.Gear).Keep(set)] += t.LandedNumber.X
	}
	caught, rows := map[strata.Cell]float64{}, map[strata.Cell]record.Catch{}
	var order []strata.Cell
	for _, k := range c.book.Catches {
		quarter := k.Quarter
		if quarter == 0 && k.Month > 0 {
			quarter = (k.Month + 2) / 3
		}
		cell := strata.Cell{Year: int16(k.Year), Quarter: int16(quarter), Month: int16(k.Month), Area: k.Area, Gear: k.Gear}.Keep(set)
		if _, there := rows[cell]; !there {
			rows[cell], order = k, append(order, cell)
		}
		if caught[cell] += k.Number.X; !k.Number.Known {
			caught[cell] = math.Inf(1)
		}
	}
	for _, cell := range order {
		if caught[cell] < landed[cell] {
			c.add(finding.Implausible, catchFile, rows[cell].Row, "number", text(caught[cell]), "landed", text(landed[cell]))
		}
	}
}

func (c *check) catchStratum(k record.Catch) {
	for _, column := range c.book.Settings.Strata {
		missing := map[string]bool{"quarter": k.Quarter == 0 && k.Month == 0, "month": k.Month == 0, "area": k.Area == "", "gear": k.Gear == ""}
		if missing[column] {
			c.add(finding.Needed, catchFile, k.Row, column, "")
		}
	}
}

func (c *check) preparationTables() {
	for i, p := range c.book.Preparations {
		enter(c, c.preparations, preparationsFile, "preparation", p.Preparation, p.Row, i)
		c.referFish(preparationsFile, p.Row, p.Fish)
		c.notFuture(preparationsFile, p.Row, "made_on", p.MadeOn)
		c.positive(preparationsFile, p.Row, "thickness_um", p.ThicknessUm)
		c.afterCatch(preparationsFile, p.Row, "made_on", p.MadeOn, p.Fish)
	}
	for i, m := range c.book.Images {
		enter(c, c.images, imagesFile, "image", m.Image, m.Row, i)
		c.preparation(imagesFile, m.Row, m.Preparation)
		c.notFuture(imagesFile, m.Row, "taken_on", m.TakenOn)
		c.positive(imagesFile, m.Row, "um_per_pixel", m.UmPerPixel)
		if p, known := c.preparations[m.Preparation]; known {
			c.after(imagesFile, m.Row, "taken_on", m.TakenOn, "made_on", c.book.Preparations[p.at].MadeOn)
		}
	}
}

func (c *check) preparation(file string, row int, preparation string) {
	refer(c, c.preparations, preparationsFile, file, row, "preparation", preparation,
		func(i int) string { return c.book.Preparations[i].Preparation }, len(c.book.Preparations))
}

// afterCatch asks whether a date can lie after the day on which the fish was caught.
func (c *check) afterCatch(file string, row int, column string, day date.Day, id record.FishID) {
	if f, known := c.fish[id]; known {
		c.after(file, row, column, day, "caught_on", c.book.Fish[f.at].CaughtOn)
	}
}

func (c *check) readingTable() {
	c.expert()
	lastOf := map[record.FishID]record.Reading{}
	for i, r := range c.book.Readings {
		enter(c, c.readings, readingsFile, "reading", r.Reading, r.Row, i)
		c.referFish(readingsFile, r.Row, r.Fish)
		c.preparation(readingsFile, r.Row, r.Preparation)
		refer(c, c.images, imagesFile, readingsFile, r.Row, "image", r.Image, func(i int) string { return c.book.Images[i].Image }, len(c.book.Images))
		c.reader(r)
		c.readAlike(r, lastOf)
		c.notFuture(readingsFile, r.Row, "read_at", r.ReadAt)
		c.afterCatch(readingsFile, r.Row, "read_at", r.ReadAt, r.Fish)
		if r.Annuli >= 0 && r.Edge == record.EdgeUnknown {
			c.add(finding.NoEdge, readingsFile, r.Row, "edge", "")
		}
		if p, known := c.preparations[r.Preparation]; known && c.book.Preparations[p.at].Fish != r.Fish {
			c.add(finding.Contradiction, readingsFile, r.Row, "fish", string(r.Fish), preparationsFile, string(c.book.Preparations[p.at].Fish))
		}
	}
}

// readAlike holds a count against the one before it of the same fish: an age between two
// that lie far apart is one that nobody read.
func (c *check) readAlike(r record.Reading, lastOf map[record.FishID]record.Reading) {
	before, twice := lastOf[r.Fish]
	if r.Annuli < 0 || r.Fish == "" {
		return
	}
	lastOf[r.Fish] = r
	if low, high := min(r.Annuli, before.Annuli), max(r.Annuli, before.Annuli); twice && high-low > 5 && high > 2*low {
		c.add(finding.Implausible, readingsFile, r.Row, "annuli", strconv.Itoa(r.Annuli), "other_reading", strconv.Itoa(before.Annuli), strconv.Itoa(before.Row))
	}
}

// expert asks whether the reader whose word counts has read at all. One that is not on the
// programme's list of readers is told where the settings are read.
func (c *check) expert() {
	expert, seen := c.book.Settings.AgreedAge.Expert, []string(nil)
	if c.book.Settings.AgreedAge.Rule != "expert" || expert == "" || len(c.book.Settings.Readers) > 0 {
		return
	}
	for _, r := range c.book.Readings {
		if r.Reader == expert {
			return
		}
		if !slices.Contains(seen, string(r.Reader)) {
			seen = append(seen, string(r.Reader))
		}
	}
	if len(seen) > 0 {
		c.add(finding.UnknownID, programmeFile, 0, "agreed_age.expert", string(expert), readingsFile, finding.Nearest(string(expert), seen))
	}
}

// reader warns of a reader whom the settings do not list. The count is used: the list is an
// order, whoever it forgets comes behind those it names (age.Panel), and one new reader must
// not keep a programme from its estimates.
func (c *check) reader(r record.Reading) {
	readers := c.book.Settings.Readers
	if r.Reader == "" || r.Reader == record.Joint || len(readers) == 0 || slices.Contains(readers, r.Reader) {
		return
	}
	var names []string
	for _, one := range readers {
		names = append(names, string(one))
	}
	c.found.Keep(finding.Finding{Kind: finding.UnknownID, Severity: finding.Warning, Place: finding.Place{File: readingsFile, Row: r.Row, Column: "reader"},
		Value: string(r.Reader), Facts: []string{programmeFile, finding.Nearest(string(r.Reader), names)}})
}

// tracerTables hold known ages, assays and the baseline against the fish. A baseline
// fish need not stand in fish.csv: it is often too young to be anybody's catch.
func (c *check) tracerTables() {
	knownAges, baseline := index[record.FishID]{}, index[record.FishID]{}
	for i, k := range c.book.KnownAges {
		enter(c, knownAges, knownAgesFile, "fish", k.Fish, k.Row, i)
		c.referFish(knownAgesFile, k.Row, k.Fish)
		if !(k.DecimalAge >= 0) {
			c.add(finding.OutOfRange, knownAgesFile, k.Row, "decimal_age", text(k.DecimalAge), "0", "")
		}
	}
	for i, b := range c.book.Baseline {
		enter(c, baseline, baselineFile, "fish", b.Fish, b.Row, i)
	}
	for _, a := range c.book.Assays {
		if _, known := baseline[a.Fish]; !known {
			c.referFish(assaysFile, a.Row, a.Fish)
		}
	}
}
